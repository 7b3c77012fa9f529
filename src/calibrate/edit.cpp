// Making and editing a record. Every edit works on a copy and is taken over only when all of it holds.
#include <fmt/format.h>

#include <algorithm>

#include "../base/ascii.hpp"
#include "../base/file_lock.hpp"
#include "hairline/files.hpp"
#include "hairline/record_edit.hpp"
#include "reading_fields.hpp"

namespace hairline {
namespace {

bool same(const FieldValue& a, const FieldValue& b) {
  if (!a || !b || !std::holds_alternative<double>(*a) || !std::holds_alternative<double>(*b)) return a == b;
  return same_number(std::get<double>(*a), std::get<double>(*b));
}

// Of one print: the same exposure, or base time and layers.
template <class Reading>
bool same_print(const Reading& a, const Reading& b) {
  const auto fields = kind_of<Reading>.fields;
  return std::all_of(fields.begin(), fields.end(),
                     [&](const auto& field) { return field.role != Role::print || same(field.get(a), field.get(b)); });
}

// Whether two readings of one print say the same.
template <class Reading>
bool equal(const Reading& a, const Reading& b) {
  const auto fields = kind_of<Reading>.fields;
  return std::all_of(fields.begin(), fields.end(), [&](const auto& field) {
    return field.role == Role::print || field.role == Role::note || field.get(a) == field.get(b);
  });
}

// Whether `more` only says what `entry` leaves open, read with the same error: then they are one coupon.
bool completes(const BracketReading& entry, const BracketReading& more) {
  const bool both_sizes = has_sizes(entry) && has_sizes(more);
  for (const auto& field : bracket_fields) {
    const FieldValue there = field.get(entry), said = field.get(more);
    if (field.role == Role::size && there && said) return false;
    if (field.role == Role::seen && there && said && there != said) return false;
    if (field.role == Role::manner && both_sizes && there != said) return false;
  }
  return true;
}
bool completes(const auto&, const auto&) {
  return false;
}

void complete(BracketReading& entry, const BracketReading& more) {
  const bool first_sizes = !has_sizes(entry), sizes = has_sizes(more);
  for (const auto& field : bracket_fields) {
    const FieldValue said = field.get(more);
    const bool taken = field.role != Role::manner ? said.has_value() : sizes && (first_sizes || said);
    if (taken && field.role != Role::print) field.set(entry, said);
  }
}
void complete(auto&, const auto&) {}

bool tells(const Field<BracketReading>& field) {
  return field.role == Role::size || field.role == Role::seen;
}

// Whether `more` says anew what the entry says; a cure depth or a base says one thing only.
bool says_anew(const BracketReading& entry, const BracketReading& more) {
  return std::any_of(bracket_fields.begin(), bracket_fields.end(),
                     [&](const auto& field) { return tells(field) && field.get(entry) && field.get(more); });
}
bool says_anew(const auto&, const auto&) {
  return true;
}

// Takes that out of the entry; whether something is left.
bool give_way(BracketReading& entry, const BracketReading& more) {
  bool left = false;
  for (const auto& field : bracket_fields) {
    if (!tells(field)) continue;
    if (field.get(more)) field.set(entry, std::nullopt);
    left = left || field.get(entry);
  }
  return left;
}
bool give_way(auto&, const auto&) {
  return false;
}

// Copies what says something else of the same print to `superseded`, and leaves in its place what is not said anew.
template <class Reading>
void set_aside(ResinRecord& record, const Reading& reading, const std::string& today) {
  const auto& [name, list, fields] = kind_of<Reading>;
  std::vector<Reading> kept;
  for (Reading entry : record.*list) {
    const bool old = same_print(entry, reading) && !equal(entry, reading) && says_anew(entry, reading);
    if (old) record.superseded.push_back({name, today, entry_text(entry)});
    if (!old || give_way(entry, reading)) kept.push_back(std::move(entry));
  }
  record.*list = std::move(kept);
}

// Adds without a look at what contradicts what; where it fails, nothing was changed.
template <class Reading>
Result<Added> put(ResinRecord& record, Reading reading, const std::string& today, IfThere if_there) {
  if (reading.date.empty()) reading.date = today;
  if (auto problem = problem_of(reading)) {
    problem->file = record.file;
    return tl::unexpected(*problem);
  }
  std::vector<Reading>& list = record.*kind_of<Reading>.list;
  const std::size_t old_superseded = record.superseded.size();
  const auto here = [&](const Reading& entry) { return same_print(entry, reading); };
  if (std::any_of(list.begin(), list.end(),
                  [&](const Reading& entry) { return here(entry) && equal(entry, reading); })) {
    return Added::already_there;
  }
  if (if_there == IfThere::replace) set_aside(record, reading, today);
  Added added = record.superseded.size() > old_superseded ? Added::replaced : Added::added;
  const auto open =
      std::find_if(list.begin(), list.end(), [&](const Reading& e) { return here(e) && completes(e, reading); });
  if (open != list.end()) {
    complete(*open, reading);
    if (added == Added::added) added = Added::merged;
  } else {
    list.push_back(std::move(reading));
  }
  return added;
}

Result<void> check_edited(const ResinRecord& edited, const FitSettings& settings) {
  if (auto many = too_many_readings(edited)) return tl::unexpected(*many);
  auto contradiction = find_contradiction(edited, settings);
  if (!contradiction) return {};
  contradiction->advice =
      "Look at both coupons again. If the older reading is the wrong one, read that coupon anew and ask for it to be "
      "replaced (--replace); then the new one fits.";
  return tl::unexpected(*contradiction);
}

Result<void> lock_writable(const std::filesystem::path& path, FileLock& lock, const Progress* progress) {
  if (auto writable = check_writable(path); !writable) return writable;
  return lock.take(path, progress);
}

Result<void> check_free(const std::filesystem::path& path) {
  std::error_code error;
  if (!std::filesystem::exists(path, error)) return {};
  return tl::unexpected(Error{ErrorKind::usage, path.string(), "there is already such a file", "a new one",
                              "Choose another name, or say --replace."});
}

// --- CSV

struct Csv {
  std::string file;
  std::vector<std::string> columns;
  char separator = ',';

  Error error(std::size_t line, std::string found, std::string expected) const {
    return {ErrorKind::invalid, file, fmt::format("line {}: {}", line, std::move(found)), std::move(expected),
            "Correct the line; nothing was added."};
  }
};

std::string_view bare(std::string_view cell) {
  return trimmed(cell, " \t\r\n\"");
}

std::vector<std::string> cells_of(const std::string& line, char separator) {
  std::vector<std::string> cells;
  for (const std::string& cell : cut_at(line, separator)) cells.emplace_back(bare(cell));
  return cells;
}

// The cells of a line by their columns. With semicolons a number may have a decimal comma.
Cells named(const Csv& csv, const std::vector<std::string>& cells) {
  Cells row;
  for (const FieldRule& rule : reading_rules()) {
    const auto column = std::find(csv.columns.begin(), csv.columns.end(), rule.key) - csv.columns.begin();
    if (column >= static_cast<std::ptrdiff_t>(cells.size())) continue;
    std::string cell = cells[static_cast<std::size_t>(column)];
    const bool number = rule.holds == Holds::number || rule.holds == Holds::whole;
    if (number && csv.separator == ';') std::replace(cell.begin(), cell.end(), ',', '.');
    row[rule.key] = std::move(cell);
  }
  return row;
}

std::optional<Error> read_header(Csv& csv, const std::string& line, std::size_t number) {
  csv.separator = line.find('\t') != std::string::npos ? '\t' : line.find(';') != std::string::npos ? ';' : ',';
  csv.columns = cells_of(line, csv.separator);
  std::vector<std::string> known;
  for (const FieldRule& rule : reading_rules()) known.emplace_back(rule.key);
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

std::string record_file_name(const std::string& label) {
  std::string name;
  for (const char c : small_letters(label)) {
    const bool kept = is_small(c) || is_digit(c);
    if (kept || (!name.empty() && name.back() != '-')) name += kept ? c : '-';
  }
  while (!name.empty() && name.back() == '-') name.pop_back();
  return (name.empty() ? "record" : name) + ".json";
}

Result<ResinRecord> new_record(const ResinRecord& facts, const std::string& today) {
  ResinRecord record;
  for (const auto& fact : fact_fields) fact.set(record, fact.get(facts));
  if (record.conditions.date.empty()) record.conditions.date = today;
  return parse_record(write_record(record), "");  // one set of rules for files and for new facts
}

Result<EditedRecord> edit_record(const std::filesystem::path& path,
                                 const std::function<Result<bool>(ResinRecord& record)>& change,
                                 const Progress* progress) {
  if (auto sound = read_record(path); !sound) return tl::unexpected(sound.error());  // no lock where there is nothing
  FileLock lock;
  if (auto taken = lock_writable(path, lock, progress); !taken) return tl::unexpected(taken.error());
  auto record = read_record(path);
  if (!record) return tl::unexpected(record.error());
  const auto changed = change(*record);
  if (!changed) return tl::unexpected(changed.error());
  if (*changed)
    if (auto saved = save_record(*record, path); !saved) return tl::unexpected(saved.error());
  return EditedRecord{std::move(*record), lock.guards()};
}

Result<EditedRecord> add_record(ResinRecord record, const std::filesystem::path& path, bool replace,
                                const Progress* progress) {
  if (!replace)
    if (auto free = check_free(path); !free) return tl::unexpected(free.error());  // no lock beside another's file
  FileLock lock;
  if (auto taken = lock_writable(path, lock, progress); !taken) return tl::unexpected(taken.error());
  if (!replace)
    if (auto free = check_free(path); !free) return tl::unexpected(free.error());
  if (auto saved = save_record(record, path); !saved) return tl::unexpected(saved.error());
  record.file = path.string();
  return EditedRecord{std::move(record), lock.guards()};
}

Result<Added> add_reading(ResinRecord& record, const AnyReading& reading, const std::string& today, IfThere if_there,
                          const FitSettings& settings) {
  ResinRecord edited = record;
  const auto added = std::visit([&](const auto& one) { return put(edited, one, today, if_there); }, reading);
  if (!added || *added == Added::already_there) return added;
  if (auto sound = check_edited(edited, settings); !sound) return tl::unexpected(sound.error());
  record = std::move(edited);
  return added;
}

std::string kept_beside(const ResinRecord& record, const BracketReading& reading) {
  std::string kept;
  for (const BracketReading& entry : record.bracket) {
    if (!same_print(entry, reading)) continue;
    for (const auto& field : bracket_fields)
      if (tells(field) && field.get(entry) && !field.get(reading))
        kept += fmt::format("{}{} {}", kept.empty() ? "" : ", ", field.option, text_of(field, field.get(entry)));
  }
  return kept;
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
    if (bare(line).empty() || bare(line)[0] == '#') continue;
    if (csv.columns.empty()) {
      if (auto error = read_header(csv, line, number)) return tl::unexpected(*error);
      continue;
    }
    const auto cells = cells_of(line, csv.separator);
    if (cells.size() > csv.columns.size()) {
      return tl::unexpected(csv.error(number, fmt::format("{} cells", cells.size()),
                                      fmt::format("at most {}, as in the header", csv.columns.size())));
    }
    auto reading = reading_from(named(csv, cells));
    if (!reading) return tl::unexpected(csv.error(number, reading.error().found, reading.error().expected));
    readings.push_back(std::move(*reading));
    if (readings.size() > most_readings) {
      Error many = csv.error(number, fmt::format("more than {} readings", most_readings),
                             fmt::format("at most {} in one record", most_readings));
      many.kind = ErrorKind::limit;
      many.advice = "Check that this is the right file; nothing was added.";
      return tl::unexpected(many);
    }
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
  if (if_there == IfThere::replace)
    for (const auto& any : readings) std::visit([&](const auto& reading) { set_aside(edited, reading, today); }, any);
  for (const auto& any : readings) {
    const auto added = std::visit([&](const auto& one) { return put(edited, one, today, IfThere::keep); }, any);
    if (!added) return tl::unexpected(added.error());
    changed += *added != Added::already_there ? 1 : 0;
  }
  if (changed > 0)
    if (auto sound = check_edited(edited, settings); !sound) return tl::unexpected(sound.error());
  changed = std::max<std::uint32_t>(changed, edited.superseded.size() > old_superseded ? 1 : 0);
  record = std::move(edited);
  return changed;
}

std::uint32_t take_back(ResinRecord& record, double exposure_s, const std::string& today) {
  std::uint32_t taken = 0;
  const auto take_from = [&]<class Reading>(std::vector<Reading>& list) {
    std::erase_if(list, [&](const Reading& entry) {
      if (!same_number(entry.exposure_s, exposure_s)) return false;
      record.superseded.push_back({kind_of<Reading>.name, today, entry_text(entry)});
      ++taken;
      return true;
    });
  };
  take_from(record.bracket);
  take_from(record.cure_depth);
  return taken;
}

Result<TakenReadings> take_readings(const std::filesystem::path& path, const std::vector<AnyReading>& readings,
                                    const std::string& today, IfThere if_there, const Progress* progress) {
  TakenReadings taken;
  const auto change = [&](ResinRecord& record) -> Result<bool> {
    for (const AnyReading& any : readings) {
      const auto* coupon = if_there == IfThere::replace ? std::get_if<BracketReading>(&any) : nullptr;
      const std::string kept = coupon ? kept_beside(record, *coupon) : "";
      if (!kept.empty()) taken.kept.push_back(fmt::format("Kept of the coupon at {} s: {}.", coupon->exposure_s, kept));
    }
    const auto added = add_readings(record, readings, today, if_there);
    if (!added) return tl::unexpected(added.error());
    taken.changed = *added;
    return taken.changed > 0;
  };
  auto edited = edit_record(path, change, progress);
  if (!edited) return tl::unexpected(std::move(edited.error()));
  taken.edited = std::move(*edited);
  return taken;
}

}  // namespace hairline
