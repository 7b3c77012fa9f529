// Local times, by the rules of the IANA time zone database (package tzdata).
#include "hairline/local_time.hpp"

#include <date/tz.h>
#include <fmt/format.h>

#include <cstdlib>
#include <ctime>
#include <exception>

#include "ascii.hpp"

namespace hairline {
namespace {

constexpr const char* utc = "UTC";  // known without a database

Error wrong_time(const std::string& text, const char* what, const char* expected, const char* example) {
  return {ErrorKind::usage, "", fmt::format("\"{}\" is no {}", text, what), expected,
          fmt::format("Write it as {}.", example)};
}

// A whole text of `digits` digits; none for anything else.
std::optional<unsigned> digits_in(std::string_view text) {
  unsigned value = 0;
  for (const char c : text) {
    if (!is_digit(c)) return std::nullopt;
    value = value * 10 + static_cast<unsigned>(c - '0');
  }
  return text.empty() ? std::nullopt : std::optional(value);
}

// The library throws where a zone, or the whole database, is not there.
const date::time_zone* find_zone(const std::string& name) {
  try {
    return date::locate_zone(name);
  } catch (const std::exception&) {
    return nullptr;
  }
}

Result<const date::time_zone*> known_zone(const std::string& name) {
  if (const date::time_zone* zone = find_zone(name)) return zone;
  return tl::unexpected(Error{ErrorKind::invalid, "", fmt::format("the time zone \"{}\" is not known", name),
                              "a name of the IANA time zone database, such as Europe/Berlin",
                              "Correct it; if all are unknown, install the package tzdata."});
}

}  // namespace

Result<ClockMin> parse_clock(const std::string& text) {
  const std::size_t colon = text.find(':');
  if ((colon == 1 || colon == 2) && text.size() == colon + 3) {
    const auto hour = digits_in(text.substr(0, colon)), minute = digits_in(text.substr(colon + 1));
    if (hour && minute && *hour < 24 && *minute < 60) return *hour * 60 + *minute;
  }
  return tl::unexpected(wrong_time(text, "time of day", "HH:MM from 00:00 to 23:59", "07:30"));
}

std::string clock_text(ClockMin minutes) {
  return fmt::format("{:02}:{:02}", minutes / 60 % 24, minutes % 60);
}

Result<LocalTime> parse_local_time(const std::string& text) {
  using namespace std::chrono;
  if (text.size() == 16 && text[4] == '-' && text[7] == '-' && text[10] == 'T' && text[13] == ':') {
    const auto years = digits_in(text.substr(0, 4)), months = digits_in(text.substr(5, 2)),
               days = digits_in(text.substr(8, 2));
    const auto clock = parse_clock(text.substr(11));
    if (years && months && days && clock) {
      const year_month_day date{year(static_cast<int>(*years)), month(*months), day(*days)};
      if (date.ok()) return LocalTime(local_days(date)) + minutes(*clock);
    }
  }
  return tl::unexpected(wrong_time(text, "local time", "a date and a time, YYYY-MM-DDTHH:MM", "2026-11-26T22:00"));
}

std::string to_string(LocalTime time) {
  using namespace std::chrono;
  const local_days days = floor<std::chrono::days>(time);
  const year_month_day date{days};
  return fmt::format("{:04}-{:02}-{:02}T{}", static_cast<int>(date.year()), static_cast<unsigned>(date.month()),
                     static_cast<unsigned>(date.day()),
                     clock_text(static_cast<ClockMin>(floor<minutes>(time - days).count())));
}

std::string local_zone() {
  const char* asked = std::getenv("TZ");
  if (asked != nullptr && *asked == '\0') return utc;  // by POSIX
  // POSIX allows a colon before the name; some systems have the file's whole path.
  std::string set = asked != nullptr ? asked : "";
  if (set.starts_with(':')) set.erase(0, 1);
  constexpr std::string_view folder = "/zoneinfo/";
  if (const std::size_t at = set.find(folder); at != std::string::npos) set.erase(0, at + folder.size());
  if (!set.empty() && find_zone(set)) return set;
  try {
    return date::current_zone()->name();
  } catch (const std::exception&) {
    return utc;
  }
}

Result<Instant> instant_of(LocalTime time, const std::string& zone) {
  if (zone == utc) return Instant(time.time_since_epoch());
  const auto known = known_zone(zone);
  if (!known) return tl::unexpected(known.error());
  return Instant(
      (*known)->to_sys(date::local_seconds(time.time_since_epoch()), date::choose::earliest).time_since_epoch());
}

LocalTime local_now() {
  const Instant now(std::chrono::seconds(std::time(nullptr)));
  return local_of(now, local_zone()).value_or(LocalTime(now.time_since_epoch()));
}

Result<LocalTime> local_of(Instant instant, const std::string& zone) {
  if (zone == utc) return LocalTime(instant.time_since_epoch());
  const auto known = known_zone(zone);
  if (!known) return tl::unexpected(known.error());
  return LocalTime((*known)->to_local(date::sys_seconds(instant.time_since_epoch())).time_since_epoch());
}

}  // namespace hairline
