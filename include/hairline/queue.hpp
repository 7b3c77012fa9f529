/// A night's queue: several checked jobs as one table, printed one after the other on one printer.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "hairline/report.hpp"

namespace hairline {

/// Minutes after midnight, 0 .. 1439.
using ClockMin = std::uint32_t;

/// "HH:MM", 00:00 to 23:59; fails with usage.
Result<ClockMin> parse_clock(const std::string& text);
/// "HH:MM".
std::string clock_text(ClockMin minutes);

/// One job of the queue: checked, or why it was not.
struct QueueRow {
  std::string file, title;
  std::optional<Error> error;  ///< set: not checked, and the fields below mean nothing
  Verdict verdict = Verdict::clear;
  double duration_s = 0, resin_ml = 0, resin_g = 0;
  std::optional<double> resin_cost;   ///< unset: no price known
  double exposure_s = 0;              ///< judged
  std::optional<double> suggested_s;  ///< set only where another time is to be set
  std::string first_reason;           ///< the gravest; empty: none
};
QueueRow queue_row(const Report& report);
QueueRow queue_row(const std::string& file, const Error& error);

struct QueueTimes {
  std::optional<ClockMin> start, ready_by;
};

/// What follows for the whole queue; jobs that were not checked are left out of the sums.
struct QueueTotals {
  std::uint32_t checked = 0, not_checked = 0, clear = 0, caution = 0, hold = 0;
  double duration_s = 0, resin_ml = 0, resin_g = 0;
  std::optional<double> resin_cost;            ///< of the jobs whose price is known; unset: of none
  std::uint32_t without_price = 0;             ///< checked jobs whose price is not known
  std::vector<double> ends_after_s;            ///< one per row: seconds from the start until it is done
  std::optional<ClockMin> latest_start;        ///< to be ready in time; needs `ready_by`
  std::uint32_t latest_start_days_before = 0;  ///< days before the day of `ready_by` on which that is
  std::optional<double> late_s;  ///< by how much the queue misses `ready_by` (0: in time); needs both times
  std::uint32_t in_time = 0;     ///< jobs from the top that are done by then; needs both times
};
/// `ready_by` is the first such time of day after `start`.
QueueTotals add_up(const std::vector<QueueRow>& rows, const QueueTimes& times);

/// One table for a person, with totals.
Document say_queue(const std::vector<QueueRow>& rows, const QueueTimes& times);

}  // namespace hairline
