/// Jobs of a night as they come from the checks, without checking anything.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "hairline/night.hpp"

namespace hairline::test {

constexpr double hour_s = 3600, minute_s = 60;

inline QueueRow row(double duration_s, double resin_ml, std::vector<std::uint32_t> printers = {0}) {
  QueueRow made;
  made.printers = std::move(printers);
  made.duration_s = duration_s;
  made.resin_ml = resin_ml;
  made.size_mm = {100, 60};
  return made;
}

inline QueueEntry entry(QueueRow only, std::uint32_t copies = 1) {
  QueueEntry made;
  made.job.copies = copies;
  made.rows = {std::move(only)};
  return made;
}

inline QueueEntry of_resin(const std::string& resin, double duration_s = hour_s) {
  QueueRow made = row(duration_s, 10);
  made.record.resin = resin;
  return entry(made);
}

inline QueueEntry on_hold(QueueRow made) {
  made.verdict = Verdict::hold;
  return entry(made);
}

inline QueueEntry not_checked(std::vector<std::uint32_t> printers) {
  QueueRow made;
  made.printers = std::move(printers);
  made.error = Error{ErrorKind::broken};
  return entry(made);
}

inline QueuePrinter printer(const std::string& label) {
  QueuePrinter made;
  made.label = label;
  return made;
}

inline QueueTimes night(const char* start, const char* ready_by, const std::string& zone = "Europe/Berlin") {
  QueueTimes times{.start = {}, .ready_by = {}, .zone = zone};
  if (*start) times.start = parse_local_time(start).value();
  if (*ready_by) times.ready_by = parse_local_time(ready_by).value();
  return times;
}

}  // namespace hairline::test
