#include "night_times.hpp"

#include <fmt/format.h>

#include "commands.hpp"

namespace hairline::cli {
namespace {

// What a clock shows now; the day that was given begins at midnight.
Result<LocalTime> now_in(const QueueTimes& times, const std::string& today) {
  if (!today.empty()) return parse_local_time(today + "T00:00");
  return local_of(std::chrono::floor<std::chrono::seconds>(std::chrono::system_clock::now()), times.zone);
}

std::optional<LocalTime> settled(const AskedTime& asked, LocalTime from, bool same_day) {
  if (asked.time || !asked.clock) return asked.time;
  const LocalTime at = std::chrono::floor<std::chrono::days>(from) + std::chrono::minutes(*asked.clock);
  return same_day || at > from ? at : at + std::chrono::days(1);
}

Result<AskedTime> parse_time(const std::string& text) {
  if (text.size() > 5) {
    const auto time = parse_local_time(text);
    if (!time) return tl::unexpected(time.error());
    return AskedTime{.time = *time};
  }
  const auto clock = parse_clock(text);
  if (!clock) return tl::unexpected(clock.error());
  return AskedTime{.clock = *clock};
}

}  // namespace

void add_night_times(CLI::App& app, NightTimes& times) {
  add_parsed(app, "--start", times.start, parse_time, "TIME",
             "When the first job starts: HH:MM today, or YYYY-MM-DDTHH:MM");
  add_parsed(app, "--ready-by", times.ready_by, parse_time, "TIME", "When all should be done");
}

Result<void> settle_times(const NightTimes& asked, const std::string& today, QueueTimes& times) {
  const auto now = now_in(times, today);
  if (!now) return tl::unexpected(now.error());
  if (const auto start = settled(asked.start, *now, true)) times.start = start;
  if (const auto end = settled(asked.ready_by, times.start.value_or(*now), false)) times.ready_by = end;
  if (!times.start || !times.ready_by || *times.ready_by > *times.start) return {};
  return tl::unexpected(usage(fmt::format("the night starts at {} and all should be ready by {}",
                                          to_string(*times.start), to_string(*times.ready_by)),
                              "an end after the start", "Correct --start or --ready-by."));
}

}  // namespace hairline::cli
