#include "readings.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <functional>
#include <iostream>
#include <map>
#include <sstream>

#include "console.hpp"
#include "hairline/files.hpp"

namespace hairline::cli {
namespace {

using Fields = std::map<std::string, std::string>;  // column to text, empty ones left out

struct SizeColumn {
  const char* name;
  const char* question;
  std::optional<double> BracketReading::*value;
};
constexpr std::array<SizeColumn, 5> size_columns{
    {{"thinnest_wall_mm", "Thinnest wall that stands, mm", &BracketReading::thinnest_wall_mm},
     {"narrowest_slot_mm", "Narrowest upright slot still open, mm", &BracketReading::narrowest_slot_mm},
     {"thinnest_pin_mm", "Thinnest pin that stands, mm", &BracketReading::thinnest_pin_mm},
     {"smallest_hole_mm", "Smallest hole still open, mm", &BracketReading::smallest_hole_mm},
     {"narrowest_flat_slot_mm", "Lowest flat slot still open, mm", &BracketReading::narrowest_flat_slot_mm}}};
constexpr const char* look_words = "missing, under, slightly-under, crisp, slightly-over or over";
constexpr const char* result_words = "lifted, held or welded";

Error invalid(std::string file, std::string found, std::string expected) {
  return {.kind = ErrorKind::invalid,
          .file = std::move(file),
          .layer = {},
          .found = std::move(found),
          .expected = std::move(expected),
          .advice = "Correct it; the record was left as it is."};
}

// One reading's fields to values; remembers the first that does not fit.
class Reader {
 public:
  Reader(const Fields& fields, std::string file, std::string where)
      : fields_(fields), file_(std::move(file)), where_(std::move(where)) {}

  bool has(const char* name) const { return fields_.count(name) > 0; }
  std::optional<double> number(const char* name) {
    if (!has(name)) return {};
    const std::string& text = fields_.at(name);
    double value = 0;
    const char* end = text.data() + text.size();
    const auto [stop, failed] = std::from_chars(text.data(), end, value);
    if (failed == std::errc() && stop == end && std::isfinite(value) && value > 0) return value;
    remember(name, "a number above 0, written as 2.5");
    return {};
  }
  template <class Word>
  std::optional<Word> word(const char* name, std::optional<Word> (*from)(std::string_view), const char* words) {
    if (!has(name)) return {};
    const auto value = from(fields_.at(name));
    if (!value) remember(name, words);
    return value;
  }
  void need(const char* name, const char* why) {
    if (!has(name) && !error_) error_ = invalid(file_, fmt::format("{}{} is missing", where_, name), why);
  }
  const std::optional<Error>& error() const { return error_; }

 private:
  void remember(const char* name, const char* expected) {
    if (!error_) error_ = invalid(file_, fmt::format("{}{} is \"{}\"", where_, name, fields_.at(name)), expected);
  }
  const Fields& fields_;
  std::string file_, where_;
  std::optional<Error> error_;
};

Result<void> take_reading(const Fields& fields, const std::string& file, const std::string& where, Readings& readings) {
  Reader reader(fields, file, where);
  BracketReading bracket;
  bool any = reader.has("look");
  for (const SizeColumn& column : size_columns) {
    bracket.*column.value = reader.number(column.name);
    any = any || reader.has(column.name);
  }
  bracket.look = reader.word<Look>("look", look_from, look_words);
  bracket.reading_error_mm = reader.number("reading_error_mm");
  bracket.ladder = reader.has("ladder");
  const std::optional<double> exposure_s = reader.number("exposure_s"), depth_mm = reader.number("cure_depth_mm"),
                              base_s = reader.number("base_s"), layers = reader.number("base_layers");
  const auto result = reader.word<BaseResult>("base_result", base_result_from, result_words);
  const bool base = reader.has("base_s") || reader.has("base_layers") || reader.has("base_result");
  if (any || reader.has("cure_depth_mm")) reader.need("exposure_s", "the exposure the coupon was printed at");
  if (reader.has("exposure_s") && !any && !reader.has("cure_depth_mm"))
    reader.need("look", "at least one size, a look, or a cure depth beside the exposure");
  if (base) {
    reader.need("base_s", "the base exposure");
    reader.need("base_layers", "the number of base layers");
    reader.need("base_result", result_words);
  }
  if (reader.error()) return tl::unexpected(*reader.error());
  bracket.exposure_s = exposure_s.value_or(0);
  if (any) readings.bracket.push_back(bracket);
  if (depth_mm) {
    CureDepthReading depth;
    depth.exposure_s = bracket.exposure_s;
    depth.depth_mm = *depth_mm;
    readings.cure_depth.push_back(depth);
  }
  if (!base) return {};
  if (*layers != std::floor(*layers) || *layers > 1000)
    return tl::unexpected(invalid(file, where + "base_layers is no whole number", "1 to 1000"));
  BaseReading held;
  held.base_s = *base_s;
  held.layers = static_cast<std::uint32_t>(*layers);
  held.result = *result;
  readings.base.push_back(held);
  return {};
}

bool known_column(const std::string& name) {
  static const char* others[] = {"exposure_s",    "look",   "reading_error_mm", "ladder",
                                 "cure_depth_mm", "base_s", "base_layers",      "base_result"};
  return std::any_of(size_columns.begin(), size_columns.end(), [&](const SizeColumn& c) { return name == c.name; }) ||
         std::any_of(std::begin(others), std::end(others), [&](const char* other) { return name == other; });
}

std::vector<std::string> cells_of(const std::string& line) {
  std::vector<std::string> cells(1);
  for (const char c : line) {
    if (c == ',' || c == ';')
      cells.emplace_back();
    else if (c != ' ' && c != '"' && c != '\r' && c != '\t')
      cells.back() += c;
  }
  return cells;
}

}  // namespace

Result<Readings> readings_from_options(const RecordReadOptions& options) {
  Fields fields;
  const auto put = [&fields](const char* name, const auto& value) {
    if (value) fields[name] = fmt::format("{}", *value);
  };
  put("exposure_s", options.exposure_s);
  put("thinnest_wall_mm", options.wall_mm);
  put("narrowest_slot_mm", options.slot_mm);
  put("thinnest_pin_mm", options.pin_mm);
  put("smallest_hole_mm", options.hole_mm);
  put("narrowest_flat_slot_mm", options.flat_slot_mm);
  put("reading_error_mm", options.error_mm);
  put("cure_depth_mm", options.cure_depth_mm);
  put("base_s", options.base_s);
  put("base_layers", options.base_layers);
  if (!options.look.empty()) fields["look"] = options.look;
  if (!options.base_result.empty()) fields["base_result"] = options.base_result;
  if (options.ladder) fields["ladder"] = "R10";
  Readings readings;
  if (auto taken = take_reading(fields, {}, {}, readings); !taken) return tl::unexpected(taken.error());
  return readings;
}

Result<Readings> readings_from_csv(const std::string& path) {
  const auto text = read_text(path, 1u << 20);
  if (!text) return tl::unexpected(text.error());
  std::istringstream lines(*text);
  std::string line;
  std::getline(lines, line);
  if (line.rfind("\xEF\xBB\xBF", 0) == 0) line.erase(0, 3);  // the mark spreadsheets put in front
  const std::vector<std::string> columns = cells_of(line);
  for (const std::string& column : columns)
    if (!known_column(column))
      return tl::unexpected(
          invalid(path, fmt::format("line 1: there is no column \"{}\"", column),
                  "exposure_s, thinnest_wall_mm, narrowest_slot_mm, thinnest_pin_mm, smallest_hole_mm, "
                  "narrowest_flat_slot_mm, look, reading_error_mm, ladder, cure_depth_mm, base_s, "
                  "base_layers, base_result"));
  Readings readings;
  for (std::size_t number = 2; std::getline(lines, line); ++number) {
    const std::vector<std::string> cells = cells_of(line);
    if (cells.size() == 1 && cells[0].empty()) continue;
    if (cells.size() != columns.size())
      return tl::unexpected(invalid(path, fmt::format("line {} has {} cells", number, cells.size()),
                                    fmt::format("{}, as in line 1", columns.size())));
    Fields fields;
    for (std::size_t i = 0; i < cells.size(); ++i)
      if (!cells[i].empty()) fields[columns[i]] = cells[i];
    if (auto taken = take_reading(fields, path, fmt::format("line {}: ", number), readings); !taken)
      return tl::unexpected(taken.error());
  }
  if (readings.empty()) return tl::unexpected(invalid(path, "there is no reading in it", "one line per coupon"));
  return readings;
}

Result<Readings> readings_from_answers() {
  Fields fields;
  const auto ask = [&fields](const char* name, const std::string& question) {
    (void)print(question + ": ");
    std::string answer;
    if (!std::getline(std::cin, answer)) return false;
    if (!answer.empty()) fields[name] = answer;
    return true;
  };
  (void)print("Type what you read; an empty line where you did not.\n");
  bool answered = ask("exposure_s", "Normal exposure of the coupon, s");
  for (const SizeColumn& column : size_columns) answered = answered && ask(column.name, column.question);
  answered = answered && ask("look", fmt::format("The look ({})", look_words));
  if (!answered)
    return tl::unexpected(Error{.kind = ErrorKind::usage,
                                .file = {},
                                .layer = {},
                                .found = "the answers ended early",
                                .expected = "one line per question",
                                .advice = "Nothing was changed."});
  Readings readings;
  if (auto taken = take_reading(fields, {}, {}, readings); !taken) return tl::unexpected(taken.error());
  return readings;
}

namespace {

Error differs(const std::string& what, double old_value, double new_value) {
  return {.kind = ErrorKind::mismatch,
          .file = {},
          .layer = {},
          .found = fmt::format("{} was read as {:g} before, now as {:g}", what, old_value, new_value),
          .expected = "one value",
          .advice = "Say --replace when the new one is right; the old one is kept in the record as superseded."};
}

// Values of `added` that are set go over those of `old`; the first that differs is told.
std::optional<Error> merge(BracketReading& old, const BracketReading& added) {
  std::optional<Error> difference;
  for (const SizeColumn& column : size_columns) {
    const auto& value = added.*column.value;
    auto& before = old.*column.value;
    if (value && before && *before != *value && !difference)
      difference = differs(fmt::format("{} at {:g} s", column.name, old.exposure_s), *before, *value);
    if (value) before = value;
  }
  if (added.look && old.look && *added.look != *old.look && !difference)
    difference = invalid({},
                         fmt::format("the look at {:g} s was {} before, now {}", old.exposure_s, to_string(*old.look),
                                     to_string(*added.look)),
                         "one look, or --replace");
  if (added.look) old.look = added.look;
  if (added.reading_error_mm) old.reading_error_mm = added.reading_error_mm;
  old.ladder = old.ladder || added.ladder;
  return difference;
}

std::optional<Error> merge(CureDepthReading& old, const CureDepthReading& added) {
  std::optional<Error> difference;
  if (old.depth_mm != added.depth_mm)
    difference = differs(fmt::format("cure_depth_mm at {:g} s", old.exposure_s), old.depth_mm, added.depth_mm);
  old.depth_mm = added.depth_mm;
  return difference;
}

std::optional<Error> merge(BaseReading& old, const BaseReading& added) {
  std::optional<Error> difference;
  if (old.result != added.result)
    difference = invalid({},
                         fmt::format("{} base layers at {:g} s had the result {} before, now {}", old.layers,
                                     old.base_s, to_string(old.result), to_string(added.result)),
                         "one result, or --replace");
  old.result = added.result;
  return difference;
}

bool same_print(const BracketReading& a, const BracketReading& b) {
  return a.exposure_s == b.exposure_s;
}
bool same_print(const CureDepthReading& a, const CureDepthReading& b) {
  return a.exposure_s == b.exposure_s;
}
bool same_print(const BaseReading& a, const BaseReading& b) {
  return a.base_s == b.base_s && a.layers == b.layers;
}

template <class Reading>
Result<void> add_all(ResinRecord& record, std::vector<Reading>& list, const std::vector<Reading>& added,
                     const char* kind, const std::string& today, bool replace) {
  const std::size_t stored = list.size();
  for (Reading reading : added) {
    reading.date = today;
    const auto old =
        std::find_if(list.begin(), list.end(), [&](const Reading& other) { return same_print(other, reading); });
    if (old == list.end()) {
      list.push_back(reading);
      continue;
    }
    const Reading before = *old;
    const std::optional<Error> difference = merge(*old, reading);
    // Two lines of one file that disagree are a slip, whatever --replace says.
    const bool from_file = static_cast<std::size_t>(old - list.begin()) < stored;
    if (difference && (!replace || !from_file)) return tl::unexpected(*difference);
    if (difference) record.superseded.push_back({kind, today, before.source});
    old->date = today;
  }
  return {};
}

}  // namespace

Result<void> add_readings(ResinRecord& record, const Readings& readings, const std::string& today, bool replace) {
  auto added = add_all(record, record.bracket, readings.bracket, "bracket", today, replace);
  if (added) added = add_all(record, record.cure_depth, readings.cure_depth, "cure_depth", today, replace);
  if (added) added = add_all(record, record.base, readings.base, "base", today, replace);
  if (!added && added.error().file.empty()) added.error().file = record.file;
  return added;
}

}  // namespace hairline::cli
