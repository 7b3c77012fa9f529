#include "fields.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "hairline/files.hpp"

namespace hairline {
namespace {

using Json = nlohmann::ordered_json;

template <class... Values>
std::string filled(const char* pattern, const Values&... values) {
  return fmt::format(fmt::runtime(pattern), values...);
}

std::string place_in(const std::string& text, std::size_t byte) {
  const std::size_t end = std::min(byte > 0 ? byte - 1 : 0, text.size());
  const auto lines = std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(end), '\n');
  const std::size_t line_start = end == 0 ? std::string::npos : text.rfind('\n', end - 1);
  return fmt::format("line {}, column {}", lines + 1, end - (line_start == std::string::npos ? 0 : line_start + 1) + 1);
}

Result<Json> parsed(const std::string& text, const JsonKind& kind) {
  const std::string noun = kind.noun;
  const auto error = [&](ErrorKind what, std::string found, std::string expected, const char* advice) {
    return tl::unexpected(Error{what, "", std::move(found), std::move(expected), advice});
  };
  Json document;
  const auto [fault, byte] = parse_json(text, document);
  switch (fault) {
    case JsonFault::none:
      break;
    case JsonFault::syntax:
      if (text.starts_with("PK\x03\x04"))
        return error(ErrorKind::broken, noun + " is a ZIP", "a JSON text", "It may be a job: name another file here.");
      return error(ErrorKind::broken, fmt::format("{} is not JSON ({})", noun, place_in(text, byte)), "a JSON text",
                   kind.damaged);
    case JsonFault::number:
      return error(ErrorKind::broken, noun + " holds a number too large to be read", "a JSON text", kind.damaged);
    case JsonFault::deep:
      return error(ErrorKind::limit, noun + " is nested too deep", fmt::format("at most {} levels", most_nesting),
                   kind.damaged);
    case JsonFault::large:
      return error(ErrorKind::limit, fmt::format("{} holds over {} values", noun, most_values),
                   "a text with fewer of them", kind.damaged);
  }
  if (document.is_object()) return document;
  return error(ErrorKind::invalid, filled(kind.no_object, noun, shown(document, kind)), kind.object, kind.other);
}

std::optional<Error> wrong_kind(const Json& document, const JsonKind& kind) {
  const std::pair<const char*, Json> members[] = {{"format", kind.format}, {"version", json_in(kind.version)}};
  for (const auto& [key, value] : members) {
    const std::string expected = filled(kind.kind_expected, key, json_text(value));
    const auto at = document.find(key);
    if (at == document.end())
      return Error{ErrorKind::invalid, "", fmt::format("{} has no \"{}\"", kind.noun, key), expected, kind.other};
    if (*at != value)
      return Error{ErrorKind::version, "", filled(kind.kind_name, key) + " is " + shown(*at, kind), expected,
                   key == members[0].first ? kind.other : kind.convert};
  }
  return std::nullopt;
}

}  // namespace

struct Fields::File {
  Json document;
  const JsonKind& kind;
  std::string name;
  std::optional<Error> error;
};

Result<Fields> read_json(const std::string& text, const std::string& file, const JsonKind& kind) {
  auto document = parsed(text, kind);
  std::optional<Error> error;
  if (!document)
    error = document.error();
  else
    error = wrong_kind(*document, kind);
  if (error) {
    error->file = file;
    return tl::unexpected(*error);
  }
  const auto shared = std::make_shared<Fields::File>(Fields::File{std::move(*document), kind, file, std::nullopt});
  return Fields(shared, shared->document, "");
}

const std::optional<Error>& Fields::error() const {
  return file_->error;
}

void Fields::fail(ErrorKind kind, std::string found, std::string expected, std::string advice) const {
  if (!file_->error) file_->error = Error{kind, file_->name, std::move(found), std::move(expected), std::move(advice)};
}

std::string Fields::path_of(std::string_view key) const {
  return path_.empty() ? std::string(key) : fmt::format("{}.{}", path_, key);
}

std::string Fields::name_of(std::string_view key) const {
  return filled(file_->kind.name, path_of(key));
}

void Fields::fail_at(ErrorKind kind, std::string_view key, const std::string& is, const std::string& expected) const {
  fail(kind, name_of(key) + " " + is, expected, filled(file_->kind.correct, path_of(key)));
}

void Fields::wrong(std::string_view key, const std::string& is, const std::string& expected) const {
  fail_at(ErrorKind::invalid, key, is, expected);
}

void Fields::wrong(std::string_view key, const std::string& expected) const {
  const Json* value = find(key);
  wrong(key, "is " + (value ? shown(*value, file_->kind) : "null"), expected);
}

const Json* Fields::find(std::string_view key) const {
  const Json* at = object_;
  for (std::size_t from = 0; !file_->error;) {
    const std::size_t stop = std::min(key.find('.', from), key.size());
    const auto member = at->find(std::string(key.substr(from, stop - from)));
    if (member == at->end() || member->is_null()) return nullptr;
    if (stop == key.size()) return &*member;
    if (!member->is_object()) {
      wrong(key.substr(0, stop), "is " + shown(*member, file_->kind), file_->kind.object);
      return nullptr;
    }
    at = &*member;
    from = stop + 1;
  }
  return nullptr;
}

const Json* Fields::required(std::string_view key, const std::string& expected) const {
  const Json* value = find(key);
  if (value || error()) return value;
  const std::string path = path_of(key);
  const std::size_t stop = path.rfind('.');
  const std::string parent = stop == std::string::npos ? file_->kind.noun : path.substr(0, stop);
  if (object_->contains(std::string(key)))
    wrong(key, expected);  // null
  else
    fail(ErrorKind::invalid, filled(file_->kind.lacks, path, parent, path.substr(stop + 1)), expected,
         filled(file_->kind.add, path));
  return nullptr;
}

bool Fields::is_null(std::string_view key) const {
  const auto member = object_->find(std::string(key));
  return member != object_->end() && member->is_null();
}

double Fields::number(std::string_view key, const Range& range) const {
  const std::string expected = range.words(file_->kind.above, file_->kind.from);
  const Json* value = required(key, expected);
  if (!value) return 0;
  if (value->is_number() && range.holds(value->get<double>())) return value->get<double>();
  wrong(key, expected);
  return 0;
}

std::uint32_t Fields::whole(std::string_view key, const Range& range, ErrorKind over) const {
  const std::string expected = range.whole_words();
  const Json* value = required(key, expected);
  if (!value) return 0;
  const double x = value->is_number() ? value->get<double>() : -1;
  const bool whole = value->is_number() && std::isfinite(x) && x == std::floor(x);
  if (whole && range.holds(x)) return static_cast<std::uint32_t>(x);
  fail_at(whole && x > range.high ? over : ErrorKind::invalid, key, "is " + shown(*value, file_->kind), expected);
  return 0;
}

std::string Fields::text(std::string_view key) const {
  const Json* value = required(key, "a text");
  if (value && value->is_string()) return value->get<std::string>();
  if (value) wrong(key, "a text");
  return "";
}

bool Fields::flag(std::string_view key) const {
  const Json* value = required(key, "true or false");
  if (value && !value->is_boolean()) wrong(key, "true or false");
  return value && value->is_boolean() && value->get<bool>();
}

std::size_t Fields::word(std::string_view key, std::span<const char* const> words) const {
  const std::string expected = any_of(words);
  const Json* value = required(key, expected);
  if (!value) return 0;
  const auto at = std::find_if(words.begin(), words.end(), [&](const char* word) { return *value == word; });
  if (at != words.end()) return static_cast<std::size_t>(at - words.begin());
  wrong(key, expected);
  return 0;
}

Fields Fields::object(std::string_view key) const {
  static const Json empty = Json::object();
  const Json* value = required(key, file_->kind.object);
  if (value && value->is_object()) return {file_, *value, path_of(key)};
  if (value) wrong(key, file_->kind.object);
  return {file_, empty, path_of(key)};
}

const Json& Fields::items(std::string_view key) const {
  static const Json none = Json::array();
  const Json* value = required(key, file_->kind.list);
  if (value && value->is_array()) return *value;
  if (value) wrong(key, file_->kind.list);
  return none;
}

std::vector<Fields> Fields::list(std::string_view key) const {
  std::vector<Fields> entries;
  std::size_t number = file_->kind.first_entry;
  for (const Json& entry : items(key)) {
    if (!entry.is_object())
      fail(ErrorKind::invalid, filled(file_->kind.entry, path_of(key), number) + " is " + shown(entry, file_->kind),
           file_->kind.object, "Correct the entry.");
    else
      entries.push_back({file_, entry, fmt::format("{}[{}]", path_of(key), number)});
    ++number;
  }
  return entries;
}

template <class T>
std::vector<T> Fields::values(std::string_view key, const std::string& expected, auto fits) const {
  std::vector<T> values;
  for (const Json& entry : items(key)) {
    if (!fits(entry)) wrong(key, "holds " + shown(entry, file_->kind), expected);
    if (!error()) values.push_back(entry.get<T>());
  }
  return values;
}

std::vector<double> Fields::numbers(std::string_view key, const Range& range) const {
  return values<double>(key, range.words(file_->kind.above, file_->kind.from),
                        [&](const Json& entry) { return entry.is_number() && range.holds(entry.get<double>()); });
}

std::vector<std::string> Fields::texts(std::string_view key) const {
  return values<std::string>(key, "a text", [](const Json& entry) { return entry.is_string(); });
}

Fields Fields::optional_object(std::string_view key) const {
  static const Json empty = Json::object();
  return has(key) ? object(key) : Fields(file_, empty, path_of(key));
}

std::vector<std::pair<std::string, Fields>> Fields::optional_members(std::string_view key) const {
  std::vector<std::pair<std::string, Fields>> out;
  const Json* object = find(key);
  if (!object) return out;
  if (!object->is_object()) wrong(key, file_->kind.object);
  for (const auto& [name, value] : object->items()) {
    const std::string path = fmt::format("{}.{}", key, name);
    if (!value.is_object()) wrong(path, "is " + shown(value, file_->kind), file_->kind.object);
    out.emplace_back(name, Fields(file_, value, path_of(path)));
  }
  return error() ? std::vector<std::pair<std::string, Fields>>() : out;
}

std::string Fields::source() const {
  return json_text(*object_);
}

std::string any_of(std::span<const char* const> words) {
  return words.size() > 2 ? fmt::format("one of {}", fmt::join(words, ", "))
                          : fmt::format("{}", fmt::join(words, " or "));
}

std::string shown(const Json& value, const JsonKind& kind) {
  if (value.is_array()) return kind.list;
  if (value.is_object()) return kind.object;
  return valid_utf8(in_short(json_text(value), 60));
}

}  // namespace hairline
