// Making and editing a record. Every edit works on a copy and is taken over only when all of it holds.
#include <algorithm>
#include <charconv>
#include <cmath>

#include "calibrate_text.hpp"
#include "hairline/records.hpp"
#include "readings.hpp"

namespace hairline {
namespace {

bool same(double a, double b) {
  return std::abs(a - b) <= 1e-6 * std::max(std::abs(a), std::abs(b));
}

bool same_print(const BracketReading& a, const BracketReading& b) {
  return same(a.exposure_s, b.exposure_s);
}
bool same_print(const CureDepthReading& a, const CureDepthReading& b) {
  return same(a.exposure_s, b.exposure_s);
}
bool same_print(const BaseReading& a, const BaseReading& b) {
  return same(a.base_s, b.base_s) && a.layers == b.layers;
}

bool equal(const BracketReading& a, const BracketReading& b) {
  for (const auto& field : size_fields) {
    if (a.*field.value != b.*field.value) return false;
  }
  return a.look == b.look && a.reading_error_mm == b.reading_error_mm && a.ladder == b.ladder;
}
bool equal(const CureDepthReading& a, const CureDepthReading& b) {
  return a.depth_mm == b.depth_mm;
}
bool equal(const BaseReading& a, const BaseReading& b) {
  return a.result == b.result;
}

// Whether `more` only says what `entry` leaves open, read with the same error: then they are one coupon.
bool completes(const BracketReading& entry, const BracketReading& more) {
  if (entry.look && more.look && entry.look != more.look) return false;
  for (const auto& field : size_fields) {
    if (entry.*field.value && more.*field.value) return false;
  }
  const bool error_open = !has_sizes(entry) || !has_sizes(more);
  return error_open || (entry.reading_error_mm == more.reading_error_mm && entry.ladder == more.ladder);
}
bool completes(const CureDepthReading&, const CureDepthReading&) {
  return false;
}
bool completes(const BaseReading&, const BaseReading&) {
  return false;
}

void complete(BracketReading& entry, const BracketReading& more) {
  if (has_sizes(more)) {
    if (!has_sizes(entry) || more.reading_error_mm) entry.reading_error_mm = more.reading_error_mm;
    entry.ladder = entry.ladder || more.ladder;
  }
  for (const auto& field : size_fields) {
    if (more.*field.value) entry.*field.value = more.*field.value;
  }
  if (more.look) entry.look = more.look;
  if (!more.date.empty()) entry.date = more.date;
}
void complete(CureDepthReading&, const CureDepthReading&) {}
void complete(BaseReading&, const BaseReading&) {}

std::vector<BracketReading>& list_of(ResinRecord& record, const BracketReading&) {
  return record.bracket;
}
std::vector<CureDepthReading>& list_of(ResinRecord& record, const CureDepthReading&) {
  return record.cure_depth;
}
std::vector<BaseReading>& list_of(ResinRecord& record, const BaseReading&) {
  return record.base;
}
const char* kind_of(const BracketReading&) {
  return "bracket";
}
const char* kind_of(const CureDepthReading&) {
  return "cure_depth";
}
const char* kind_of(const BaseReading&) {
  return "base";
}

template <class Reading>
Result<Added> add(ResinRecord& record, Reading reading, const std::string& today, IfThere if_there,
                  const FitSettings& settings) {
  if (reading.date.empty()) reading.date = today;
  if (auto problem = problem_of(reading)) {
    problem->file = record.file;
    return tl::unexpected(*problem);
  }
  ResinRecord edited = record;
  std::vector<Reading>& list = list_of(edited, reading);
  const auto here = [&](const Reading& entry) { return same_print(entry, reading); };
  if (std::any_of(list.begin(), list.end(),
                  [&](const Reading& entry) { return here(entry) && equal(entry, reading); })) {
    return Added::already_there;
  }
  Added added = Added::added;
  if (if_there == IfThere::replace) {
    for (const Reading& entry : list) {
      if (here(entry))
        edited.superseded.push_back({kind_of(entry), today, json_text(to_json(entry))}), added = Added::replaced;
    }
    std::erase_if(list, here);
  }
  const auto open =
      std::find_if(list.begin(), list.end(), [&](const Reading& e) { return here(e) && completes(e, reading); });
  if (open != list.end()) {
    complete(*open, reading);
    added = Added::merged;
  } else {
    list.push_back(std::move(reading));
  }
  if (auto contradiction = find_contradiction(edited, settings)) {
    contradiction->advice =
        "Look at both coupons again; to put the new reading in place of the old one, ask for it to be replaced.";
    return tl::unexpected(*contradiction);
  }
  record = std::move(edited);
  return added;
}

// --- CSV

struct Csv {
  std::string file;
  std::vector<std::string> columns;
  char separator = ',';

  Error error(std::size_t line, std::string found, std::string expected) const {
    return {ErrorKind::invalid,  file,
            std::nullopt,        fmt::format("line {}: {}", line, std::move(found)),
            std::move(expected), "Correct the line; nothing was added."};
  }
};

std::string trimmed(const std::string& text) {
  const char* blanks = " \t\r\n\"";
  const auto first = text.find_first_not_of(blanks);
  return first == std::string::npos ? "" : text.substr(first, text.find_last_not_of(blanks) - first + 1);
}

std::vector<std::string> cells_of(const std::string& line, char separator) {
  std::vector<std::string> cells;
  std::size_t from = 0;
  while (true) {
    const auto to = line.find(separator, from);
    cells.push_back(trimmed(line.substr(from, to == std::string::npos ? to : to - from)));
    if (to == std::string::npos) return cells;
    from = to + 1;
  }
}

std::optional<double> number_of(std::string text, char separator) {
  if (separator == ';') std::replace(text.begin(), text.end(), ',', '.');
  double value = 0;
  const char* end = text.data() + text.size();
  const auto [stop, problem] = std::from_chars(text.data(), end, value);
  if (problem != std::errc() || stop != end || !std::isfinite(value)) return std::nullopt;
  return value;
}

// One line as named cells; empty cells are left out.
struct Row {
  const Csv& csv;
  std::size_t line;
  std::vector<std::string> cells;
  std::optional<Error> error;

  const std::string* find(const char* column) const {
    for (std::size_t i = 0; i < csv.columns.size(); ++i) {
      if (csv.columns[i] == column && i < cells.size() && !cells[i].empty()) return &cells[i];
    }
    return nullptr;
  }
  std::optional<double> number(const char* column) {
    const std::string* cell = find(column);
    if (!cell) return std::nullopt;
    const auto value = number_of(*cell, csv.separator);
    if (!value && !error) error = csv.error(line, fmt::format("{} is \"{}\"", column, *cell), "a number, or nothing");
    return value;
  }
  double required(const char* column) {
    if (!find(column) && !error) error = csv.error(line, fmt::format("no {}", column), "a number");
    return number(column).value_or(0);
  }
  std::string text(const char* column) const {
    const std::string* cell = find(column);
    return cell ? *cell : "";
  }
};

BracketReading bracket_row(Row& row) {
  BracketReading reading;
  reading.exposure_s = row.required("exposure_s");
  for (const auto& field : size_fields) reading.*field.value = row.number(field.name);
  reading.reading_error_mm = row.number("reading_error_mm");
  reading.date = row.text("date");
  if (const std::string* look = row.find("look")) {
    reading.look = look_from(*look);
    if (!reading.look && !row.error) {
      row.error = row.csv.error(row.line, fmt::format("look is \"{}\"", *look),
                                "one of missing, under, slightly-under, crisp, slightly-over, over");
    }
  }
  if (const std::string* ladder = row.find("ladder")) {
    reading.ladder = *ladder == "R10";
    if (!reading.ladder && !row.error) {
      row.error = row.csv.error(row.line, fmt::format("ladder is \"{}\"", *ladder), "R10, or nothing");
    }
  }
  return reading;
}

CureDepthReading cure_depth_row(Row& row) {
  CureDepthReading reading;
  reading.exposure_s = row.required("exposure_s");
  reading.depth_mm = row.required("depth_mm");
  reading.date = row.text("date");
  return reading;
}

BaseReading base_row(Row& row) {
  BaseReading reading;
  reading.base_s = row.required("base_s");
  const double layers = row.number("layers").value_or(0);
  const bool whole = layers >= 0 && layers <= 1000 && layers == std::floor(layers);
  if (!whole && !row.error)
    row.error = row.csv.error(row.line, "layers is " + row.text("layers"), "a whole number from 0 to 1000");
  reading.layers = whole ? static_cast<std::uint32_t>(layers) : 0;
  const auto result = base_result_from(row.text("result"));
  if (!result && !row.error) {
    row.error =
        row.csv.error(row.line, fmt::format("result is \"{}\"", row.text("result")), "one of lifted, held, welded");
  }
  reading.result = result.value_or(BaseResult::held);
  reading.date = row.text("date");
  return reading;
}

Result<AnyReading> parse_row(Row row) {
  AnyReading reading = row.find("base_s")     ? AnyReading(base_row(row))
                       : row.find("depth_mm") ? AnyReading(cure_depth_row(row))
                                              : AnyReading(bracket_row(row));
  if (row.error) return tl::unexpected(*row.error);
  if (auto problem = std::visit([](const auto& r) { return problem_of(r); }, reading)) {
    return tl::unexpected(row.csv.error(row.line, problem->found, problem->expected));
  }
  return reading;
}

std::optional<Error> read_header(Csv& csv, const std::string& line, std::size_t number) {
  csv.separator = line.find('\t') != std::string::npos ? '\t' : line.find(';') != std::string::npos ? ';' : ',';
  csv.columns = cells_of(line, csv.separator);
  std::vector<std::string> known{"exposure_s", "look",   "reading_error_mm", "ladder", "date",
                                 "depth_mm",   "base_s", "layers",           "result"};
  for (const auto& field : size_fields) known.emplace_back(field.name);
  for (std::size_t i = 0; i < csv.columns.size(); ++i) {
    const std::string& column = csv.columns[i];
    if (std::find(known.begin(), known.end(), column) == known.end()) {
      return csv.error(number, fmt::format("the header names a column \"{}\"", column),
                       fmt::format("a header line with columns out of {}", fmt::join(known, ", ")));
    }
    if (std::find(csv.columns.begin(), csv.columns.begin() + static_cast<std::ptrdiff_t>(i), column) !=
        csv.columns.begin() + static_cast<std::ptrdiff_t>(i)) {
      return csv.error(number, fmt::format("the header names \"{}\" twice", column), "each column once");
    }
  }
  return std::nullopt;
}

}  // namespace

Result<ResinRecord> new_record(const ResinRecord& facts, const std::string& today) {
  ResinRecord record = facts;
  record.file.clear();
  record.bracket.clear();
  record.cure_depth.clear();
  record.base.clear();
  record.superseded.clear();
  record.fit.reset();
  record.fitted_at.clear();
  record.method.clear();
  if (record.conditions.date.empty()) record.conditions.date = today;
  record.source = json_text({{"format", "resin-record"}, {"version", 1}});
  return parse_record(write_record(record), "");  // one set of rules for files and for new facts
}

Result<Added> add_reading(ResinRecord& record, const BracketReading& reading, const std::string& today,
                          IfThere if_there, const FitSettings& settings) {
  return add(record, reading, today, if_there, settings);
}
Result<Added> add_reading(ResinRecord& record, const CureDepthReading& reading, const std::string& today,
                          IfThere if_there, const FitSettings& settings) {
  return add(record, reading, today, if_there, settings);
}
Result<Added> add_reading(ResinRecord& record, const BaseReading& reading, const std::string& today, IfThere if_there,
                          const FitSettings& settings) {
  return add(record, reading, today, if_there, settings);
}

Result<std::vector<AnyReading>> parse_readings_csv(const std::string& text, const std::string& file) {
  Csv csv{file, {}, ','};
  std::vector<AnyReading> readings;
  std::size_t number = 0, from = text.rfind("\xEF\xBB\xBF", 0) == 0 ? 3 : 0;
  while (from < text.size()) {
    const auto to = std::min(text.find('\n', from), text.size());
    const std::string line = text.substr(from, to - from);
    from = to + 1;
    ++number;
    if (trimmed(line).empty() || trimmed(line)[0] == '#') continue;
    if (csv.columns.empty()) {
      if (auto error = read_header(csv, line, number)) return tl::unexpected(*error);
      continue;
    }
    auto cells = cells_of(line, csv.separator);
    if (cells.size() > csv.columns.size()) {
      return tl::unexpected(csv.error(number, fmt::format("{} cells", cells.size()),
                                      fmt::format("at most {}, as in the header", csv.columns.size())));
    }
    auto reading = parse_row(Row{csv, number, std::move(cells), std::nullopt});
    if (!reading) return tl::unexpected(reading.error());
    readings.push_back(std::move(*reading));
  }
  if (readings.empty()) {
    return tl::unexpected(
        csv.error(number, "the end of the file, and no reading", "a header line and at least one reading"));
  }
  return readings;
}

Result<std::uint32_t> add_readings(ResinRecord& record, const std::vector<AnyReading>& readings,
                                   const std::string& today, IfThere if_there, const FitSettings& settings) {
  ResinRecord edited = record;
  std::uint32_t changed = 0;
  // Readings of one batch never replace each other: only what was in the record before gives way.
  const std::size_t old_superseded = record.superseded.size();
  if (if_there == IfThere::replace) {
    for (const auto& any : readings) {
      std::visit(
          [&](const auto& reading) {
            auto& list = list_of(edited, reading);
            for (const auto& entry : list) {
              if (same_print(entry, reading) && !equal(entry, reading)) {
                edited.superseded.push_back({kind_of(entry), today, json_text(to_json(entry))});
              }
            }
            std::erase_if(list,
                          [&](const auto& entry) { return same_print(entry, reading) && !equal(entry, reading); });
          },
          any);
    }
  }
  for (const auto& any : readings) {
    const auto added =
        std::visit([&](const auto& reading) { return add(edited, reading, today, IfThere::keep, settings); }, any);
    if (!added) return tl::unexpected(added.error());
    changed += *added != Added::already_there ? 1 : 0;
  }
  changed = std::max<std::uint32_t>(changed, edited.superseded.size() > old_superseded ? 1 : 0);
  record = std::move(edited);
  return changed;
}

}  // namespace hairline
