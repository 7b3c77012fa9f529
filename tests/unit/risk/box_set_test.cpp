// A set of boxes against asking each of them.
#include "risk/box_set.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <set>

#include "support/random.hpp"

using namespace hairline;
using test::Random;

TEST_CASE("boxes: what overlaps one of many, and which, as asking each of them tells") {
  Random random(7);
  const auto box = [&](double most_mm) {
    const PlaceMm from{random.between_real(0, 10), random.between_real(0, 10), random.between_real(0, 10)};
    return BoxMm{from,
                 {from.x + random.between_real(0, most_mm), from.y + random.between_real(0, most_mm),
                  from.z + random.between_real(0, most_mm)}};
  };
  for (const std::size_t count : {0, 1, 31, 32, 33, 500}) {
    std::vector<BoxMm> boxes;
    for (std::size_t i = 0; i < count; ++i) boxes.push_back(box(i % 100 == 7 ? 4 : 0.4));
    const BoxSet set(boxes);
    int overlapping = 0;
    for (int i = 0; i < 400; ++i) {
      const BoxMm one = box(0.6);
      const bool any = std::any_of(boxes.begin(), boxes.end(), [&](const BoxMm& other) { return overlap(other, one); });
      REQUIRE(set.overlaps(one) == any);
      std::set<std::uint32_t> met, beginning_in;
      CHECK_FALSE(set.any_overlapping(one, [&](std::uint32_t k) { return !met.insert(k).second; }));
      set.each_beginning_in(one, [&](std::uint32_t k) { beginning_in.insert(k); });
      for (std::uint32_t k = 0; k < boxes.size(); ++k) {
        REQUIRE((met.count(k) > 0) == overlap(boxes[k], one));
        REQUIRE((beginning_in.count(k) > 0) == (overlap(boxes[k], one) && boxes[k].from.x >= one.from.x));
      }
      overlapping += any;
    }
    CHECK((overlapping > 0) == (count > 1));
    CHECK(overlapping < 400);
  }
}
