#include <catch2/catch.hpp>

#include "hairline/verdict.hpp"

using namespace hairline;

TEST_CASE("gaps that print over a third narrower are named with what was drawn and what prints") {
  // Bounds as docs/growth.md, Findings (common practice, no source): two thirds of the width, 0.1 mm2 of sides.
  Growth growth;
  growth.widths = {{0.05, {}, {}, {}, {}, 0, 9},
                   {0.1, 0.13, 0.04, 0.1, {}, 0, 4},
                   {0.15, 0.2, 0.1, 0.18, 0.08, 0, 2},
                   {0.2, 0.25, 0.15, 0.24, 0.13, 0, 0.05},
                   {0.25, 0.3, 0.2, 0.3, 0.18, 0, 7}};
  const std::vector<std::string> found = tight_gaps(growth, {});
  REQUIRE(found.size() == 1);
  CHECK(found[0] ==
        "Slots drawn 0.10 mm wide stay open but print 0.04 mm, round holes of 0.15 mm print 0.08 mm: over a third "
        "narrower. 6.00 mm2 of gap sides are so; draw them wider.");
  growth.widths[2].slot_mm = 0.09;
  CHECK(tight_gaps(growth, {})[0].find("Slots drawn 0.10 to 0.15 mm wide stay open but print 0.04 to 0.09 mm") == 0);
}

TEST_CASE("what the list calls closed is not said to stay open") {
  Growth growth;
  growth.widths = {{0.1, 0.13, 0.04, 0.1, {}, 0, 4}, {0.15, 0.2, 0.09, 0.18, 0.08, 0, 2}};
  Detail closed;
  closed.fate = Fate::fuse, closed.state = State::will, closed.lost = true, closed.width_mm = 0.1;
  const auto found = tight_gaps(growth, {closed});
  REQUIRE(found.size() == 1);
  CHECK(found[0].find("Slots drawn 0.15 mm wide stay open") == 0);
  closed.width_mm = 0.15;
  CHECK(tight_gaps(growth, {closed}).empty());
  closed.flat = true;
  CHECK(tight_gaps(growth, {closed})[0].find("Slots drawn 0.10 to 0.15") == 0);
}

TEST_CASE("nothing is said where gaps keep two thirds, or the job has none so narrow") {
  Growth growth;
  CHECK(tight_gaps(growth, {}).empty());
  growth.widths = {{0.1, 0.13, 0.04, 0.1, {}, 50, 0}, {0.15, 0.2, 0.1, 0.18, 0.11, 0, 9}};
  CHECK(tight_gaps(growth, {}).empty());
}
