/// Times as the clock on the wall shows them, in a time zone of the IANA database, with its clock changes.
#pragma once
#include <chrono>
#include <string>

#include "hairline/result.hpp"

namespace hairline {

/// What a clock shows, to the second, and a moment.
using LocalTime = std::chrono::local_seconds;
using Instant = std::chrono::sys_seconds;

/// Minutes after midnight, 0 .. 1439.
using ClockMin = std::uint32_t;

/// "HH:MM", 00:00 to 23:59; fails with usage.
Result<ClockMin> parse_clock(const std::string& text);
/// "HH:MM".
std::string clock_text(ClockMin minutes);

/// "YYYY-MM-DDTHH:MM"; fails with usage.
Result<LocalTime> parse_local_time(const std::string& text);
std::string to_string(LocalTime time);  ///< the same; seconds are left out

/// What the clock of this machine shows.
LocalTime local_now();

/// The zone of this machine ($TZ, else the system's), as its IANA name; "UTC" where neither is known.
std::string local_zone();

/// The moment at which clocks in `zone` show `time`. Where they are put back and show it twice, the first; where they
/// are put forward and skip it, the moment of the change. An unknown zone fails with invalid.
Result<Instant> instant_of(LocalTime time, const std::string& zone);
Result<LocalTime> local_of(Instant instant, const std::string& zone);

}  // namespace hairline
