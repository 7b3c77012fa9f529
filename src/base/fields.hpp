/// The one reader of our JSON files. `read_json` opens a text and checks all that the formats have in common: nesting,
/// JSON, an object, "format", "version". The members are then asked for by name and range; the first thing that is
/// wrong is kept with its full name, and after it everything reads as left out. So a file is read straight down, and
/// `error` is asked once at the end:
///
///     const auto top = read_json(text, file, kind);
///     if (!top) return tl::unexpected(top.error());
///     job.title = top->optional_text("title");
///     job.pitch_mm = top->number("image.pitch_mm", {0, 1, true, "mm"});
///     for (const Fields& entry : top->list("layers")) job.heights_mm.push_back(entry.number("height_mm", height));
///     if (top->error()) return tl::unexpected(*top->error());
///
/// A key may lead into objects with full stops ("image.pitch_mm"). null counts as left out. A member that is left out
/// is an error, unless it is asked for by an `optional_` function. After an error numbers read as 0, texts as empty.
#pragma once
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "hairline/result.hpp"
#include "json.hpp"
#include "numbers.hpp"

namespace hairline {

/// One format, and how the faults of its files are told. The words are patterns of fmt. As they stand they suit a file
/// whose path is in front of the sentence; a text inside another file (a manifest) says which text it is about.
struct JsonKind {
  const char* format;                                                   ///< what "format" has to be
  const char* version = "1";                                            ///< and "version", as JSON
  const char* damaged = "Look for a missing comma, quote or bracket.";  ///< advice where it is not JSON, as a sentence
  const char* other;                                                    ///< advice where it is something else
  const char* convert = "Write it as version 1.";                       ///< advice where it is another version
  const char* noun = "the file";                                        ///< what has no member, or is not JSON
  const char* name = "{}";                                              ///< of a member, by its path
  const char* kind_name = "\"{}\"";
  const char* kind_expected = "\"{}\": {}";  ///< key, value
  const char* lacks = "{1} has no {2}";      ///< path, path of the parent (or noun), key
  const char* entry = "{}, entry {},";       ///< a list's path, number of an entry that is not an object
  const char* no_object = "{} holds {}";     ///< noun, value
  const char* correct = "Correct {}, or leave it out if it is not known.";
  const char* add = "Add {}.";
  const char* object = "a JSON object";
  const char* list = "a JSON array";
  const char* above = "a number over {} and up to {}{}";  ///< as in Range::words
  const char* from = "a number from {} to {}{}";
  std::size_t first_entry = 1;  ///< number of the first entry of a list
};

/// One object of a file. Copies are cheap and share the file and its first error; they may outlive each other.
class Fields {
 public:
  /// The first error of the whole file.
  const std::optional<Error>& error() const;
  /// Keeps this error, where none is kept yet.
  void fail(ErrorKind kind, std::string found, std::string expected, std::string advice) const;
  /// Keeps `<name> <is>; expected ...`.
  void wrong(std::string_view key, const std::string& is, const std::string& expected) const;
  /// The same with the value that is there: `<name> is <value>; expected ...`.
  void wrong(std::string_view key, const std::string& expected) const;

  bool has(std::string_view key) const { return find(key) != nullptr; }
  /// It is there, and null.
  bool is_null(std::string_view key) const;
  double number(std::string_view key, const Range& range) const;
  /// A whole number; `over` is the kind of error where it is too large.
  std::uint32_t whole(std::string_view key, const Range& range, ErrorKind over = ErrorKind::invalid) const;
  std::string text(std::string_view key) const;
  bool flag(std::string_view key) const;
  /// An enum by word: the place of the text in `words`.
  std::size_t word(std::string_view key, std::span<const char* const> words) const;
  Fields object(std::string_view key) const;
  /// A list of objects, of numbers, of texts.
  std::vector<Fields> list(std::string_view key) const;
  std::vector<double> numbers(std::string_view key, const Range& range) const;
  std::vector<std::string> texts(std::string_view key) const;

  std::optional<double> optional_number(std::string_view key, const Range& range) const {
    return has(key) ? std::optional(number(key, range)) : std::nullopt;
  }
  std::optional<std::uint32_t> optional_whole(std::string_view key, const Range& range,
                                              ErrorKind over = ErrorKind::invalid) const {
    return has(key) ? std::optional(whole(key, range, over)) : std::nullopt;
  }
  std::string optional_text(std::string_view key, const std::string& otherwise = "") const {
    return has(key) ? text(key) : otherwise;
  }
  bool optional_flag(std::string_view key) const { return has(key) && flag(key); }
  std::vector<Fields> optional_list(std::string_view key) const { return has(key) ? list(key) : std::vector<Fields>(); }
  Fields optional_object(std::string_view key) const;  ///< an empty one where it is left out
  /// The objects in an object whose keys are free, in the order of the file; keys may hold full stops.
  std::vector<std::pair<std::string, Fields>> optional_members(std::string_view key) const;

  /// The value itself, for what none of these can read; null where it is left out or after an error.
  const nlohmann::ordered_json* find(std::string_view key) const;
  /// This object as compact JSON, to be kept with what was read from it.
  std::string source() const;

 private:
  struct File;
  friend Result<Fields> read_json(const std::string& text, const std::string& file, const JsonKind& kind);
  Fields(std::shared_ptr<File> file, const nlohmann::ordered_json& object, std::string path)
      : file_(std::move(file)), object_(&object), path_(std::move(path)) {}

  std::string path_of(std::string_view key) const;
  std::string name_of(std::string_view key) const;
  void fail_at(ErrorKind kind, std::string_view key, const std::string& is, const std::string& expected) const;
  const nlohmann::ordered_json* required(std::string_view key, const std::string& expected) const;
  const nlohmann::ordered_json& items(std::string_view key) const;
  template <class T>
  std::vector<T> values(std::string_view key, const std::string& expected, auto fits) const;

  std::shared_ptr<File> file_;
  const nlohmann::ordered_json* object_;
  std::string path_;
};

/// `kind` must live as long as what is read (a constant). Fails with limit (nested over `most_nesting`), broken (not
/// JSON), invalid (no object; no format or version), version (another one).
Result<Fields> read_json(const std::string& text, const std::string& file, const JsonKind& kind);

/// What a word may be, as a message says it: "R10"; "gaussian or lorentzian"; "one of lifted, held, welded".
std::string any_of(std::span<const char* const> words);

/// A value as a message may quote it: at most 60 bytes; of an object or list only that it is one.
std::string shown(const nlohmann::ordered_json& value, const JsonKind& kind);

}  // namespace hairline
