// Fields read from a file by the functions `each_field` (report_blocks.hpp, queue_fields.hpp). Internal to src/report.
#pragma once
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <utility>

#include "../base/fields.hpp"
#include "hairline/local_time.hpp"
#include "report_blocks.hpp"
#include "words.hpp"

namespace hairline {

using Json = nlohmann::ordered_json;

inline constexpr const char* a_report = "Give a report; `hairline check JOB --json FILE` writes one.";
inline constexpr JsonKind report_kind{.format = "preflight-report",
                                      .version = "2",
                                      .damaged = "Check the job again; that writes a new report.",
                                      .other = a_report,
                                      .convert = a_report};

// One entry of a list of numbers, words or places; false where it is something else.
inline bool take(const Json& json, double& value, const Range& range = amount) {
  if (!json.is_number() || !range.holds(json.get<double>())) return false;
  value = json.get<double>();
  return true;
}
inline bool take(const Json& json, std::uint32_t& value) {
  double number = 0;
  if (!take(json, number, {0, 4294967295.0}) || number != std::floor(number)) return false;
  value = static_cast<std::uint32_t>(number);
  return true;
}
inline bool take(const Json& json, std::optional<double>& value) {
  return json.is_null() || take(json, value.emplace());
}
inline bool take(const Json& json, LayerKind& kind) {
  const auto words = words_for(kind);
  const auto at = std::find_if(words.begin(), words.end(), [&](const char* word) { return json == word; });
  kind = static_cast<LayerKind>(at - words.begin());
  return at != words.end();
}
inline bool has_entries(const Json& json, std::size_t count) {
  return json.is_array() && json.size() == count;
}
inline bool take(const Json& json, PlaceMm& at) {
  constexpr Range anywhere{-1e15, 1e15};
  return has_entries(json, 3) && take(json[0], at.x, anywhere) && take(json[1], at.y, anywhere) &&
         take(json[2], at.z, anywhere);
}
inline bool take(const Json& json, BoxMm& box) {
  return has_entries(json, 2) && take(json[0], box.from) && take(json[1], box.to);
}
inline bool take(const Json& json, std::array<double, 2>& values) {
  return has_entries(json, 2) && take(json[0], values[0]) && take(json[1], values[1]);
}

// After the first thing that is wrong, which `Fields` keeps, everything reads as left out.
class FieldReader {
 public:
  static constexpr bool reads = true;
  explicit FieldReader(Fields in) : in_(std::move(in)) {}

  void wrong(const char* name, const char* expected) { in_.wrong(name, expected); }

  void operator()(const char* name, double& value, const Range& range = amount) { value = in_.number(name, range); }
  void operator()(const char* name, std::uint32_t& value, const Range& range = {0, 4294967295.0}) {
    value = in_.whole(name, range);
  }
  void operator()(const char* name, bool& value) { value = in_.flag(name); }
  void operator()(const char* name, std::optional<bool>& value) {
    if (in_.has(name)) value = in_.flag(name);
  }
  void operator()(const char* name, std::string& value) { value = in_.text(name); }
  void operator()(const char* name, std::vector<std::string>& values) { values = in_.texts(name); }
  void operator()(const char* name, std::optional<double>& value, const Range& range = amount) {
    value = in_.optional_number(name, range);
  }
  void operator()(const char* name, std::optional<std::uint32_t>& value, const Range& range = {0, 4294967295.0}) {
    value = in_.optional_whole(name, range);
  }
  void operator()(const char* name, std::optional<int>& value) {
    const auto number = in_.optional_number(name, {-1e6, 1e6});
    if (number && *number != std::floor(*number)) in_.wrong(name, "a whole number");
    if (number) value = static_cast<int>(*number);
  }
  template <class Enum>
  requires std::is_enum_v<Enum>
  void operator()(const char* name, Enum& value) { value = static_cast<Enum>(in_.word(name, words_for(value))); }
  template <class Enum>
  requires std::is_enum_v<Enum>
  void operator()(const char* name, std::optional<Enum>& value) {
    if (in_.has(name)) (*this)(name, value.emplace());
  }
  void operator()(const char* name, std::optional<LocalTime>& value) {
    if (!in_.has(name)) return;
    const auto time = parse_local_time(in_.text(name));
    time ? void(value = *time) : in_.wrong(name, "a date and a time, YYYY-MM-DDTHH:MM");
  }
  void operator()(const char* name, std::array<double, 2>& values) { entry(name, values, "[x, y]"); }
  void operator()(const char* name, std::optional<PlaceMm>& at) {
    if (in_.has(name)) entry(name, at.emplace(), "[x, y, z]");
  }
  void operator()(const char* name, BoxMm& box) { entry(name, box, "two places [x, y, z]"); }
  void operator()(const char* name, std::optional<std::array<double, 2>>& range) {
    if (in_.has(name)) entry(name, range.emplace(), "[from, to]");
  }
  template <class T>
  void operator()(const char* name, std::vector<T>& values) {
    if constexpr (std::same_as<T, LayerRow>) {
      read(in_.object(name), values);
    } else if constexpr (std::is_arithmetic_v<T>) {
      constexpr Range holds = std::integral<T> ? Range{0, 4294967295.0} : amount;
      for (const double number : in_.numbers(name, holds)) values.push_back(static_cast<T>(number));
    } else {
      for (const Fields& one : in_.list(name)) read(one, values.emplace_back());
    }
  }
  template <class T>
  void operator()(const char* name, std::optional<T>& value) {
    if (in_.has(name)) read(in_.object(name), value.emplace());
  }
  template <class T>
  requires std::is_class_v<T>
  void operator()(const char* name, T& value) { read(in_.object(name), value); }

  // null for a number that is not finite.
  void or_null(const char* name, double& value) {
    value = in_.is_null(name) ? std::numeric_limits<double>::quiet_NaN() : in_.number(name, amount);
  }
  void with(const char* name, std::optional<Bulk>& value, const char* also, double& also_value) {
    (*this)(name, value);
    if (value) FieldReader(in_.object(name))(also, also_value);
  }

  template <class T>
  void column(const char* name, std::vector<LayerRow>& rows, T LayerRow::*member, bool nulls = false) {
    const Json* list = in_.find(name);
    if (!list || !list->is_array()) return in_.wrong(name, "a list with one entry for each layer");
    if (!std::exchange(sized_, true)) rows.resize(list->size());  // the first list decides
    if (list->size() != rows.size())
      return in_.wrong(name, fmt::format("has {} entries", list->size()), fmt::format("{} of them", rows.size()));
    for (std::size_t i = 0; i < rows.size(); ++i) {
      const Json& entry = (*list)[i];
      if ((nulls && entry.is_null()) || take(entry, rows[i].*member)) continue;
      return in_.wrong(name, fmt::format("is {} for layer {}", shown(entry, report_kind), i + 1),
                       "what formats/preflight-report.md says of it");
    }
  }
  // The first files of version 2 do not have these.
  void later(const char* name, auto& value) {
    if (in_.has(name)) (*this)(name, value);
  }
  void later_column(const char* name, std::vector<LayerRow>& rows, LayerKind LayerRow::*member) {
    if (in_.has(name)) column(name, rows, member);
  }
  void later_column(const char* name, std::vector<LayerRow>& rows, PlaceMm LayerRow::*member,
                    std::optional<double> LayerRow::*) {
    if (in_.has(name)) column(name, rows, member, true);
  }

 private:
  template <class T>
  static void read(const Fields& in, T& value) {
    FieldReader reader(in);
    each_field(reader, value);
  }
  template <class T>
  void entry(const char* name, T& value, const char* expected) {
    const Json* json = in_.find(name);
    if (!json || !take(*json, value)) in_.wrong(name, expected);
  }

  Fields in_;
  bool sized_ = false;  // the rows have their number
};

// The value that a file of this kind holds. `check` may find something wrong with it too, and complete it.
template <class T>
Result<T> read_fields(const std::string& text, const std::string& file, const JsonKind& kind, auto check) {
  const auto top = read_json(text, file, kind);
  if (!top) return tl::unexpected(top.error());
  T value;
  FieldReader reader(*top);
  each_field(reader, value);
  check(*top, value);
  if (top->error()) return tl::unexpected(*top->error());
  return value;
}

}  // namespace hairline
