/// Failure as a value: every function that can fail returns Result<T>; nothing in the library throws, prints or exits.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <tl/expected.hpp>

namespace hairline {

/// What went wrong, by what the caller would do next. The names are interface: same input, same kind, on any machine.
enum class ErrorKind : std::uint8_t {
  usage,       ///< the call itself is wrong (an option out of range): correct the call
  not_found,   ///< no such file, or no such entry in the archive: check the path
  unreadable,  ///< it exists but cannot be read (rights, a folder where a file is needed): fix access
  broken,      ///< read, but damaged or cut off (bad ZIP, PNG, JSON): make the file again
  invalid,     ///< well-formed, but a value is missing, of the wrong kind or out of range: correct the value
  mismatch,    ///< two places disagree (mask size and manifest, numbering and count): make them agree
  version,     ///< another format or a version we do not know: convert it or update the program
  limit,       ///< larger than the limits for foreign files: raise the limit if you trust the file
  unwritable,  ///< an output cannot be written: choose another place
  cancelled,   ///< stopped on request: nothing to correct
};

/// One failure, in the parts a person needs. All text is UTF-8 and may quote bytes from foreign files unescaped;
/// whoever shows it escapes it (the terminal with `visible`, HTML and JSON by their own rules).
struct Error {
  ErrorKind kind = ErrorKind::usage;
  std::string file = {};                    ///< path as the person gave it; may be empty for usage errors
  std::string found = {};                   ///< what was there, as a clause: `the manifest has no "image"`
  std::string expected = {};                ///< what should be there, read after the word "expected": `an object`
  std::string advice = {};                  ///< what to do next, as a sentence
  std::optional<std::uint32_t> layer = {};  ///< 1-based, where one layer is to blame
  std::string command = {};                 ///< a command that does it, shown behind the rest; mostly empty
};

template <class T>
using Result = tl::expected<T, Error>;

/// The error as one paragraph: `file, layer N: found; expected this. Advice.` Parts that are empty are left out; long
/// ones are shortened in the middle, words over 100 columns first. Ends with a full stop and holds no line break (those
/// of foreign names become \x0A and \x0D).
std::string to_paragraph(const Error& error);

/// The kind's name as written in JSON and in tests ("broken", "mismatch", ...).
std::string to_string(ErrorKind kind);

}  // namespace hairline
