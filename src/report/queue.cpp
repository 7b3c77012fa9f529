// The queue's sums and its table.
#include "hairline/queue.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "../base/ascii.hpp"
#include "words.hpp"

namespace hairline {
namespace {

constexpr double day_s = 86400, minute_s = 60;

// Seconds from `start` to the first `ready_by` after it; a queue may run for days, but then it is late.
double time_allowed_s(ClockMin start, ClockMin ready_by) {
  const std::uint32_t minutes = (ready_by + 1440 - start) % 1440;
  return minutes == 0 ? day_s : minutes * minute_s;
}

void find_latest_start(QueueTotals& totals, ClockMin ready_by) {
  const auto needed_min = static_cast<std::int64_t>(std::ceil(totals.duration_s / minute_s));
  const std::int64_t start = static_cast<std::int64_t>(ready_by) - needed_min;
  const std::int64_t days = start >= 0 ? 0 : (-start + 1439) / 1440;
  totals.latest_start = static_cast<ClockMin>(start + days * 1440);
  totals.latest_start_days_before = static_cast<std::uint32_t>(days);
}

void hold_against(QueueTotals& totals, const std::vector<QueueRow>& rows, double allowed_s) {
  totals.late_s = std::max(0.0, totals.duration_s - allowed_s);
  for (std::size_t i = 0; i < rows.size(); ++i)
    if (!rows[i].error && totals.ends_after_s[i] <= allowed_s) ++totals.in_time;
}

}  // namespace

Result<ClockMin> parse_clock(const std::string& text) {
  const auto wrong = [&text] {
    return tl::unexpected(Error{.kind = ErrorKind::usage,
                                .file = {},
                                .layer = {},
                                .found = fmt::format("\"{}\" is no time of day", text),
                                .expected = "HH:MM from 00:00 to 23:59",
                                .advice = "Write it as 07:30."});
  };
  const std::size_t colon = text.find(':');
  if (colon == std::string::npos || colon < 1 || colon > 2 || text.size() != colon + 3) return wrong();
  std::uint32_t parts[2] = {0, 0};
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (i == colon) continue;
    if (!is_digit(text[i])) return wrong();
    std::uint32_t& part = parts[i < colon ? 0 : 1];
    part = part * 10 + static_cast<std::uint32_t>(text[i] - '0');
  }
  if (parts[0] > 23 || parts[1] > 59) return wrong();
  return parts[0] * 60 + parts[1];
}

std::string clock_text(ClockMin minutes) {
  return fmt::format("{:02}:{:02}", minutes / 60 % 24, minutes % 60);
}

QueueRow queue_row(const Report& report) {
  QueueRow row;
  row.file = report.job.file;
  row.title = report.job.title;
  row.verdict = report.verdict;
  row.duration_s = report.job.duration_s;
  row.resin_ml = report.job.resin_ml;
  row.resin_g = report.job.resin_g;
  row.resin_cost = report.job.resin_cost;
  row.exposure_s = report.exposure_s;
  if (report.suggestion && report.suggestion->action == Action::change) row.suggested_s = report.suggestion->exposure_s;
  if (!report.reasons.empty()) row.first_reason = report.reasons.front();
  return row;
}

QueueRow queue_row(const std::string& file, const Error& error) {
  QueueRow row;
  row.file = file;
  row.error = error;
  return row;
}

QueueTotals add_up(const std::vector<QueueRow>& rows, const QueueTimes& times) {
  QueueTotals totals;
  for (const QueueRow& row : rows) {
    if (row.error) {
      ++totals.not_checked;
    } else {
      ++totals.checked;
      ++(row.verdict == Verdict::hold ? totals.hold : row.verdict == Verdict::caution ? totals.caution : totals.clear);
      totals.duration_s += row.duration_s;
      totals.resin_ml += row.resin_ml;
      totals.resin_g += row.resin_g;
      if (row.resin_cost)
        totals.resin_cost = totals.resin_cost.value_or(0) + *row.resin_cost;
      else
        ++totals.without_price;
    }
    totals.ends_after_s.push_back(totals.duration_s);
  }
  if (times.ready_by) find_latest_start(totals, *times.ready_by);
  if (times.start && times.ready_by) hold_against(totals, rows, time_allowed_s(*times.start, *times.ready_by));
  return totals;
}

namespace {

std::string end_text(double after_s, ClockMin start) {
  const auto minutes = start + static_cast<std::uint64_t>(std::ceil(after_s / minute_s));
  std::string text = clock_text(static_cast<ClockMin>(minutes % 1440));
  if (minutes >= 1440) text += fmt::format(" +{}d", minutes / 1440);
  return text;
}

Tone tone_of(const QueueRow& row) {
  if (row.error || row.verdict == Verdict::hold) return Tone::bad;
  return row.verdict == Verdict::caution ? Tone::doubtful : Tone::good;
}

// "cost 12.40, without 2 jobs whose price is not known"
std::string said_cost(const QueueTotals& totals) {
  if (!totals.resin_cost) return {};
  std::string text = ", cost " + cost_text(*totals.resin_cost);
  if (totals.without_price > 0)
    text += fmt::format(", without {} whose price is not known", count_text(totals.without_price, "job", "jobs"));
  return text;
}

TableRow say_row(const QueueRow& row, double ends_after_s, const QueueTimes& times) {
  if (row.error)
    return {{"BROKEN", "-", "-", "-", "-", row.file}, Tone::bad, {{to_paragraph(*row.error), Tone::plain, 4}}};
  TableRow said{{to_string(row.verdict), duration_text(row.duration_s), amount_text(row.resin_ml) + " ml",
                 row.resin_cost ? cost_text(*row.resin_cost) : "-",
                 times.start ? end_text(ends_after_s, *times.start) : "-", row.file},
                tone_of(row),
                {}};
  if (!row.first_reason.empty()) said.notes.push_back({row.first_reason, Tone::plain, 4});
  if (row.suggested_s)
    said.notes.push_back(
        {fmt::format("Set {} a layer instead of {}.", exposure_text(*row.suggested_s), exposure_text(row.exposure_s)),
         Tone::plain, 4});
  return said;
}

void say_ready(Document& said, const QueueTotals& totals, const QueueTimes& times) {
  if (!times.ready_by) return;
  if (totals.late_s && *totals.late_s > 0)
    said.push_back(
        Paragraph{fmt::format("Not ready by {}: {} too late; {} done by then.", clock_text(*times.ready_by),
                              duration_text(*totals.late_s), count_text(totals.in_time, "job is", "jobs are")),
                  Tone::bad});
  else if (totals.late_s)
    said.push_back(Paragraph{fmt::format("Ready by {}.", clock_text(*times.ready_by)), Tone::good});
  const std::uint32_t days = totals.latest_start_days_before;
  said.push_back(Paragraph{fmt::format("Latest start to be ready by {}: {}{}.", clock_text(*times.ready_by),
                                       clock_text(*totals.latest_start),
                                       days == 0   ? std::string()
                                       : days == 1 ? std::string(" the day before")
                                                   : fmt::format(" {} days before", days))});
}

// Where no price is known there is no column for it.
void leave_out_cost(Table& table) {
  constexpr std::ptrdiff_t cost = 3;
  table.columns.erase(table.columns.begin() + cost);
  for (TableRow& row : table.rows) row.cells.erase(row.cells.begin() + cost);
}

}  // namespace

Document say_queue(const std::vector<QueueRow>& rows, const QueueTimes& times) {
  const QueueTotals totals = add_up(rows, times);
  Table table{{{"verdict", TableColumn::Kind::text, 8},
               {"time", TableColumn::Kind::number, 11},
               {"resin", TableColumn::Kind::number, 16},
               {"cost", TableColumn::Kind::number, 10},
               {"done at", TableColumn::Kind::number, 10},
               {"job", TableColumn::Kind::prose, 0, 2}},
              {}};
  for (std::size_t i = 0; i < rows.size(); ++i) table.rows.push_back(say_row(rows[i], totals.ends_after_s[i], times));
  if (!totals.resin_cost) leave_out_cost(table);
  Document said = {table, Heading{}};
  said.push_back(Paragraph{fmt::format(
      "{}: {} clear, {} caution, {} hold{}.", count_text(totals.checked, "job", "jobs"), totals.clear, totals.caution,
      totals.hold,
      totals.not_checked == 0 ? std::string()
                              : fmt::format("; {} not checked and left out of the sums", totals.not_checked))});
  said.push_back(Paragraph{fmt::format(
      "One after the other on one printer, without the pauses between jobs: {}; {} ml ({} g) of "
      "resin{}.",
      duration_text(totals.duration_s), amount_text(totals.resin_ml), amount_text(totals.resin_g), said_cost(totals))});
  say_ready(said, totals, times);
  return said;
}

}  // namespace hairline
