// Expected clock changes: IANA time zone database (tzdata, as `zdump -v` shows it), and for Europe directive
// 2000/84/EC: the last Sundays of March and October at 01:00 UTC.
#include "hairline/local_time.hpp"

#include <catch2/catch.hpp>
#include <cstdlib>

using namespace hairline;
using namespace std::chrono_literals;

namespace {

const std::string berlin = "Europe/Berlin";

LocalTime local(const char* text) {
  return parse_local_time(text).value();
}

Instant moment(const char* text, const std::string& zone = "UTC") {
  return instant_of(local(text), zone).value();
}

// $TZ for one test.
class ZoneSet {
 public:
  explicit ZoneSet(const char* zone) {
    if (const char* now = std::getenv("TZ")) before_ = now;
    ::setenv("TZ", zone, 1);
  }
  ~ZoneSet() { before_ ? ::setenv("TZ", before_->c_str(), 1) : ::unsetenv("TZ"); }

 private:
  std::optional<std::string> before_;
};

}  // namespace

TEST_CASE("clock times are read and written") {
  CHECK(parse_clock("00:00").value() == 0);
  CHECK(parse_clock("7:30").value() == 450);
  CHECK(parse_clock("23:59").value() == 1439);
  CHECK(clock_text(450) == "07:30");
  for (const char* wrong : {"", ":", "24:00", "7", "7:3", "7:60", "a:bc", "-1:30", "07:30 ", "123:00", "7:3x"}) {
    INFO(wrong);
    REQUIRE_FALSE(parse_clock(wrong));
    CHECK(parse_clock(wrong).error().kind == ErrorKind::usage);
  }
}

TEST_CASE("local times are read and written") {
  for (const char* text : {"2026-11-26T22:00", "2028-02-29T00:00", "1999-12-31T23:59"})
    CHECK(to_string(local(text)) == text);
  CHECK(local("2026-11-27T07:30") - local("2026-11-26T22:00") == 570min);
  for (const char* wrong :
       {"", "2026-11-26", "22:00", "2026-11-26 22:00", "2026-11-26T24:00", "2026-11-31T22:00", "2027-02-29T22:00",
        "2026-00-01T22:00", "2026-13-01T22:00", "2026-11-26T7:30", "2026-11-26T22:00Z", "2026-11-26T22:00:00",
        "-026-11-26T22:00", "2026-1a-26T22:00", "nan-11-26T22:00x"}) {
    INFO(wrong);
    REQUIRE_FALSE(parse_local_time(wrong));
    CHECK(parse_local_time(wrong).error().kind == ErrorKind::usage);
  }
}

TEST_CASE("a night across the spring change is an hour shorter, one across the autumn change an hour longer") {
  CHECK(moment("2027-01-11T07:30", berlin) - moment("2027-01-10T22:00", berlin) == 570min);
  CHECK(moment("2027-03-28T07:30", berlin) - moment("2027-03-27T22:00", berlin) == 510min);
  CHECK(moment("2027-10-31T07:30", berlin) - moment("2027-10-30T22:00", berlin) == 630min);
  // America/New_York changes at 02:00 local time: 2027-03-14 (second Sunday of March; Energy Policy Act of 2005).
  CHECK(moment("2027-03-14T07:30", "America/New_York") - moment("2027-03-13T22:00", "America/New_York") == 510min);
  CHECK(to_string(local_of(moment("2027-03-27T22:00", berlin) + 8h, berlin).value()) == "2027-03-28T07:00");
}

TEST_CASE("a time that clocks skip is the moment of the change, one shown twice is the first") {
  const Instant spring = moment("2027-03-28T01:00");
  for (const char* skipped : {"2027-03-28T02:00", "2027-03-28T02:30", "2027-03-28T02:59", "2027-03-28T03:00"})
    CHECK(moment(skipped, berlin) == spring);
  CHECK(moment("2027-03-28T01:59", berlin) == spring - 1min);
  CHECK(moment("2027-10-31T02:30", berlin) == moment("2027-10-31T00:30"));
  CHECK(moment("2027-10-31T03:00", berlin) == moment("2027-10-31T02:00"));
  for (const Instant twice : {moment("2027-10-31T00:30"), moment("2027-10-31T01:30")})
    CHECK(to_string(local_of(twice, berlin).value()) == "2027-10-31T02:30");
}

TEST_CASE("an unknown zone is invalid") {
  for (const char* unknown : {"", "Europe/Harbour", "../../etc/passwd", "Europe", "europe/berlin"}) {
    INFO(unknown);
    REQUIRE_FALSE(instant_of(local("2027-01-10T22:00"), unknown));
    CHECK(instant_of(local("2027-01-10T22:00"), unknown).error().kind == ErrorKind::invalid);
    CHECK_FALSE(local_of(moment("2027-01-10T22:00"), unknown));
  }
}

TEST_CASE("the zone of this machine is $TZ where that names one") {
  for (const char* set : {"Europe/Berlin", ":Europe/Berlin", "/usr/share/zoneinfo/Europe/Berlin"}) {
    const ZoneSet zone(set);
    CHECK(local_zone() == berlin);
  }
  const ZoneSet none("Harbour/Nowhere");
  CHECK(instant_of(local("2027-01-10T22:00"), local_zone()));
}
