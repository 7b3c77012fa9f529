/// Files written so that nothing is lost or half-written, and text from foreign files made safe to show.
#pragma once
#include <cstdint>
#include <filesystem>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "hairline/result.hpp"

namespace hairline {

/// Whole file as bytes; fails with not_found, unreadable (also for a folder, a device or a pipe), limit (over
/// `most_bytes`).
Result<std::string> read_text(const std::filesystem::path& path, std::uint64_t most_bytes = 64u << 20);

/// Writes `text` aside, under a name of its own, and renames. Fails with unwritable and leaves the old file as it was.
/// A link is written through, also one that leads to no file yet; devices and pipes (/dev/null, /dev/stdout) are
/// written straight: a pipe is waited for until somebody reads it, up to 10 s (cancelled when a signal ends the wait).
Result<void> write_text(const std::filesystem::path& path, std::string_view text);

/// Takes the next part of a text. False: it cannot be written, and further parts would be in vain.
using TextSink = std::function<bool(std::string_view part)>;
/// Hands a text, part by part, to the sink.
using TextSource = std::function<void(const TextSink& sink)>;
/// The same for a text too long to hold.
Result<void> write_text(const std::filesystem::path& path, const TextSource& source);

/// An output that was asked for, tried before the long work: makes sure `path` can be written (its folder exists, is
/// writable, is not a folder itself) without changing it. Fails with unwritable.
Result<void> check_writable(const std::filesystem::path& path);

/// Makes a folder and those above it, where they are missing. Fails with unwritable.
Result<void> make_folder(const std::filesystem::path& path);

/// UTF-8 with bad bytes replaced by U+FFFD (for JSON and HTML), one for each longest beginning of a well-formed
/// sequence (Unicode Standard, section 3.9).
std::string valid_utf8(std::string_view bytes);
/// Text safe for a terminal: control characters, line separators, marks that turn the direction of writing, characters
/// that are not seen, and bad UTF-8 bytes as \xNN.
std::string visible(std::string_view bytes);
/// Text that takes over `most_columns` as `visible` shows it, with "..." in its middle instead of the rest: twice as
/// much of its beginning is kept as of its end. Characters stay whole; wide ones count as one column.
std::string in_short(std::string_view bytes, std::size_t most_columns);
/// The beginning of a UTF-8 text, of at most `most_bytes`; characters stay whole.
std::string beginning_of(std::string_view text, std::size_t most_bytes);
/// A word as a shell takes it: quoted where it holds more than letters, digits and a few signs.
std::string shell_word(std::string word);
/// Without the mark that some programs put in front of UTF-8 text.
std::string without_byte_order_mark(std::string text);
/// Orders names the way people number files: digit groups by value ("2" before "10"), the rest by bytes. A strict
/// order: names that differ only in leading zeros are ordered too.
bool natural_less(std::string_view a, std::string_view b);

/// What a misspelt name was perhaps meant to be: the first of those `names` that differ least from `asked`, counting
/// letters added, left out, replaced, and neighbours swapped; capitals do not matter. Empty when the nearest differs in
/// more than a third of the letters asked for (one difference is always near).
std::string nearest_name(std::string_view asked, const std::vector<std::string>& names);

}  // namespace hairline
