// A night as CSV, one row per job: its first print's start, its last one's end.
#include <fmt/format.h>

#include <algorithm>

#include "../base/numbers.hpp"
#include "hairline/files.hpp"
#include "queue_fields.hpp"
#include "queue_words.hpp"
#include "words.hpp"

namespace hairline {
namespace {

std::string number(const std::optional<double>& value) {
  return value ? fmt::format("{}", twelve_digits(*value)) : std::string();
}

// A text as RFC 4180, section 2 has it: in quotes where it holds a comma, a quote or a line break.
std::string quoted(const std::string& raw) {
  std::string text = valid_utf8(raw);
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  for (std::size_t at = 0; (at = text.find('"', at)) != std::string::npos; at += 2) text.insert(at, 1, '"');
  return '"' + text + '"';
}

// What is printed of a job.
struct Printed {
  std::uint32_t copies = 0;
  double start_s = 0, end_s = 0;
  bool late = false;
  std::string printers;
  std::uint32_t last_printer = 0;
  const NotPlanned* left = nullptr;
};

std::vector<Printed> printed_of(const CheckedQueue& night) {
  std::vector<Printed> all(night.entries.size());
  for (const PlannedPrint& print : night.plan.prints) {
    Printed& one = all[print.job];
    one.start_s = one.copies == 0 ? print.start_s : std::min(one.start_s, print.start_s);
    one.end_s = std::max(one.end_s, print.end_s);
    one.late = one.late || print.late;
    if (one.copies == 0 || one.last_printer != print.printer)  // prints come by printer
      one.printers += (one.copies == 0 ? "" : "; ") + night.printers[print.printer].label;
    one.last_printer = print.printer;
    ++one.copies;
  }
  for (const NotPlanned& left : night.plan.not_planned) all[left.job].left = &left;
  return all;
}

std::string plan_cells(const Printed& one, const NightClock& clock) {
  const bool any = one.copies > 0, times = any && clock.known();
  return fmt::format("{},{},{},{},{},{},{},{}", quoted(one.printers), one.copies,
                     any ? number(one.start_s) : std::string(), any ? number(one.end_s) : std::string(),
                     times ? to_string(clock.at(one.start_s)) : "", times ? to_string(clock.at(one.end_s)) : "",
                     !any       ? ""
                     : one.late ? "true"
                                : "false",
                     one.left ? word_of(one.left->why) : "");
}

std::string check_cells(const QueueRow& row) {
  if (row.error) return "BROKEN,,,,,,,,,," + quoted(to_paragraph(*row.error));
  return fmt::format("{},{},{},{},{},{},{},{},{},{},{}", to_string(row.verdict), number(row.duration_s),
                     number(row.resin_ml), number(row.resin_g), number(row.resin_cost), number(row.exposure_s),
                     number(row.suggested_s), row.suggested_verdict ? to_string(*row.suggested_verdict) : "",
                     quoted(row.record.file), row.record.age_days ? std::to_string(*row.record.age_days) : "",
                     quoted(row.first_reason));
}

}  // namespace

std::string to_csv(const CheckedQueue& night) {
  std::string csv =
      "place,file,copies,printer,planned,start_s,end_s,start,end,late,left_out,verdict,duration_s,resin_ml,resin_g,"
      "resin_cost,exposure_s,suggested_s,suggested_verdict,record,record_age_days,reason\r\n";
  const NightClock clock(night.times);
  const std::vector<std::uint32_t> rows = chosen_rows(night);
  const std::vector<Printed> printed = printed_of(night);
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const QueueEntry& entry = night.entries[i];
    csv += fmt::format("{},{},{},{},{}\r\n", entry.place, quoted(entry.job.file), entry.job.copies,
                       plan_cells(printed[i], clock), check_cells(entry.rows[rows[i]]));
  }
  return csv;
}

}  // namespace hairline
