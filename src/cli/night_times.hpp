// When a night starts, and when all should be ready.
#pragma once
#include "hairline/queue.hpp"
#include "options.hpp"

namespace hairline::cli {

// A time of day, or a date and time.
struct AskedTime {
  std::optional<ClockMin> clock = {};
  std::optional<LocalTime> time = {};
};
struct NightTimes {
  AskedTime start, ready_by;
};
void add_night_times(CLI::App& app, NightTimes& times);

// What was typed goes before what the queue file says. A time of day is that of today for the start, and the first one
// after it for the end; `today`: YYYY-MM-DD, empty: as the clock says. Fails with usage.
Result<void> settle_times(const NightTimes& asked, const std::string& today, QueueTimes& times);

}  // namespace hairline::cli
