// The dense judge of details on scenes small enough to be worked out by hand: it judges src/risk, so it is judged
// first. Voxels of 0.05 mm; what flips, and when, is set directly.
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

#include "stacks.hpp"
#include "support/detail_judge.hpp"

using namespace hairline;

namespace {

constexpr double px = 0.05, voxel_mm3 = px * px * px;
constexpr std::uint32_t side = 20;

struct Block {
  std::uint32_t x0, y0, z0, x1, y1, z1;  // px and layers from 0, half open
};

struct Scene {
  twin::Input input;
  referee::Voxels voxels;

  explicit Scene(std::uint32_t layers) {
    const JobSettings settings = stacks::plain_settings({side, side}, layers);
    input.plans = printed_layers(settings, 2);
    input.pitch = settings.pitch;
    input.model = stacks::plain_model(0.02);
    input.exposure_s = 2;
    const Size size{side, side};
    for (std::uint32_t l = 0; l < layers; ++l) {
      LayerBuilder empty(size);
      input.layers.push_back(empty.take());
    }
    voxels.solid = voxels.thin = twin::Volume<std::uint8_t>(layers, size, 0);
    voxels.vanish_s = twin::Volume<double>(layers, size, 0);
    voxels.fuse_s = twin::Volume<double>(layers, size, std::numeric_limits<double>::infinity());
  }
  template <class F>
  void each(const Block& b, F f) {
    for (std::uint32_t l = b.z0; l < b.z1; ++l)
      for (std::uint32_t r = b.y0; r < b.y1; ++r)
        for (std::uint32_t c = b.x0; c < b.x1; ++c) f(voxels.solid.index(l, r, c));
  }
  void body(const Block& b) {
    each(b, [&](std::size_t i) { voxels.solid.values[i] = 1, voxels.vanish_s.values[i] = 1; });
  }
  void thin(const Block& b, double vanish_s) {
    body(b);
    each(b, [&](std::size_t i) { voxels.thin.values[i] = 1, voxels.vanish_s.values[i] = vanish_s; });
  }
  void gap(const Block& b, double fuse_s) {
    each(b, [&](std::size_t i) { voxels.solid.values[i] = 0, voxels.fuse_s.values[i] = fuse_s; });
  }
  referee::Judged judged() const { return referee::judge(input, voxels); }
};

}  // namespace

TEST_CASE("judge by hand: a neck of four layers under a tower") {
  Scene scene(18);
  scene.body({0, 0, 0, 20, 20, 4});
  scene.thin({9, 9, 4, 11, 11, 8}, 10);
  scene.body({5, 5, 8, 15, 15, 18});
  const referee::Judged judged = scene.judged();
  REQUIRE(judged.details.size() == 1);
  const referee::Detail& neck = judged.details[0];
  CHECK((neck.vanish && neck.will && !neck.base));
  CHECK(neck.from_layer == 5);
  CHECK(neck.to_layer == 8);
  CHECK(neck.volume_mm3 == Approx(16 * voxel_mm3));
  CHECK(neck.front_mm2 == Approx(8 * px * px));  // four pixels below, four above
  CHECK(neck.depth_mm == Approx(0.1));
  CHECK(neck.extent_mm == Approx(std::hypot(0.1, 0.1, 0.2)));
  CHECK(*neck.share == Approx(1));
  CHECK(*neck.reach_mm == Approx(2 * px));
  CHECK(neck.carries_mm3 == Approx(1000 * voxel_mm3));
  CHECK(neck.lost);
  CHECK(neck.critical_s == 10);
}

TEST_CASE("judge by hand: what hangs on what") {
  Scene scene(30);
  scene.body({0, 0, 0, 20, 20, 2});
  SECTION("a rail on two pickets hangs on each, and a tip on top of it carries nothing") {
    scene.thin({3, 9, 2, 4, 10, 12}, 10);
    scene.thin({16, 9, 2, 17, 10, 12}, 10);
    scene.body({2, 8, 12, 18, 12, 22});
    scene.thin({10, 9, 22, 11, 10, 30}, 10);
    const referee::Judged judged = scene.judged();
    REQUIRE(judged.details.size() == 3);
    CHECK(judged.details[0].carries_mm3 == Approx(640 * voxel_mm3));
    CHECK(judged.details[1].carries_mm3 == Approx(640 * voxel_mm3));
    CHECK(judged.details[2].carries_mm3 == 0);
  }
  SECTION("the lower neck of two carries both bodies, the upper one its own") {
    scene.thin({9, 9, 2, 11, 11, 6}, 10);
    scene.body({5, 5, 6, 15, 15, 12});
    scene.thin({9, 9, 12, 11, 11, 16}, 10);
    scene.body({5, 5, 16, 15, 15, 20});
    const referee::Judged judged = scene.judged();
    REQUIRE(judged.details.size() == 2);
    CHECK(judged.details[0].carries_mm3 == Approx(1000 * voxel_mm3));
    CHECK(judged.details[1].carries_mm3 == Approx(400 * voxel_mm3));
  }
  SECTION("what stands elsewhere too does not fall") {
    scene.thin({3, 9, 2, 4, 10, 12}, 10);
    scene.body({14, 8, 2, 18, 12, 12});
    scene.body({2, 8, 12, 18, 12, 22});
    CHECK(scene.judged().details.at(0).carries_mm3 == 0);
  }
  SECTION("what the mask itself leaves in the air falls with nothing") {
    scene.thin({3, 9, 2, 4, 10, 12}, 10);
    scene.body({8, 8, 14, 18, 18, 20});
    CHECK(scene.judged().details.at(0).carries_mm3 == 0);
  }
  SECTION("a neck that may go carries what the other, which will go, carries then too") {
    scene.thin({3, 9, 2, 4, 10, 12}, 10);
    scene.thin({16, 9, 2, 17, 10, 12}, 1.95);  // Phi(ln(1.95 / 2) / 0.05) = 0.31
    scene.body({2, 8, 12, 18, 12, 22});
    const referee::Judged judged = scene.judged();
    REQUIRE(judged.details.size() == 2);
    CHECK(judged.details[0].will);
    CHECK(judged.details[0].carries_mm3 == 0);
    CHECK_FALSE(judged.details[1].will);
    CHECK(judged.details[1].carries_mm3 == Approx(640 * voxel_mm3));
  }
}

TEST_CASE("judge by hand: a picket of which the lower half will go and the upper may") {
  Scene scene(12);
  scene.body({0, 0, 0, 20, 20, 2});
  scene.thin({9, 9, 2, 11, 11, 7}, 10);
  scene.thin({9, 9, 7, 11, 11, 12}, 1.95);
  const referee::Judged judged = scene.judged();
  REQUIRE(judged.details.size() == 2);
  const referee::Detail &lower = judged.details[0], &upper = judged.details[1];
  CHECK(lower.depth_mm == Approx(20 * voxel_mm3 / (8 * px * px)));  // stays: four pixels below, four above
  CHECK(*lower.share == Approx(20.0 / 36));  // the part is cut to 0.2 mm around: four of the upper five layers
  CHECK(*lower.reach_mm == Approx(3 * px));
  CHECK(lower.lost);
  CHECK(upper.front_mm2 == 0);  // all around is empty, and below is what will go
  CHECK(upper.depth_mm == upper.extent_mm);
  CHECK(*upper.share == Approx(1));
  CHECK(*upper.reach_mm == Approx(10 * px));
  CHECK(upper.lost);
  CHECK(upper.shadowed);
}

TEST_CASE("judge by hand: a slot that fills from its bottom") {
  Scene scene(12);
  scene.body({2, 2, 0, 18, 18, 12});
  scene.gap({6, 9, 2, 12, 10, 8}, 1);                                         // filled
  scene.gap({6, 9, 8, 12, 10, 12}, std::numeric_limits<double>::infinity());  // open
  const referee::Judged judged = scene.judged();
  REQUIRE(judged.details.size() == 1);
  const referee::Detail& slot = judged.details[0];
  CHECK_FALSE(slot.vanish);
  CHECK(slot.front_mm2 == Approx(6 * px * px));
  CHECK(slot.depth_mm == Approx(6 * px));
  CHECK(*slot.share == Approx(0.6));
  CHECK(*slot.reach_mm == Approx(6 * px));
  CHECK_FALSE(slot.welds);
  CHECK_FALSE(slot.cavity);
  CHECK(slot.lost);
}

TEST_CASE("judge by hand: closed cavities, and gaps between two bodies") {
  Scene scene(12);
  SECTION("a cavity that fills is seen by nobody") {
    scene.body({2, 2, 0, 18, 18, 12});
    scene.gap({6, 9, 2, 12, 11, 8}, 1);
    const referee::Judged judged = scene.judged();
    REQUIRE(judged.details.size() == 1);
    CHECK(judged.details[0].cavity);
    CHECK(judged.details[0].depth_mm == 0);
    CHECK_FALSE(judged.details[0].lost);
  }
  SECTION("two bodies grow together") {
    scene.body({2, 2, 0, 9, 18, 12});
    scene.body({10, 2, 0, 18, 18, 12});
    scene.gap({9, 2, 0, 10, 18, 12}, 1);
    const referee::Judged judged = scene.judged();
    REQUIRE(judged.details.size() == 1);
    CHECK(judged.details[0].welds);
    CHECK(judged.details[0].front_mm2 == Approx((2 * 12 + 16) * px * px));  // both ends and the top; below is the plate
    CHECK(judged.details[0].lost);
  }
  SECTION("joined close by, they are one") {
    scene.body({2, 2, 0, 18, 18, 2});
    scene.body({2, 2, 2, 9, 18, 12});
    scene.body({10, 2, 2, 18, 18, 12});
    scene.gap({9, 2, 2, 10, 18, 6}, 1);
    CHECK_FALSE(scene.judged().details.at(0).welds);
  }
}

TEST_CASE("judge by hand: ways that close") {
  Scene scene(16);
  scene.input.model.blur_mm = 0.03;  // looks 3 voxels around
  scene.body({0, 0, 0, 20, 20, 16});
  SECTION("a hole through a wall, between two spaces that go on") {
    scene.gap({0, 0, 2, 8, 20, 16}, std::numeric_limits<double>::infinity());
    scene.gap({12, 0, 2, 20, 20, 16}, std::numeric_limits<double>::infinity());
    scene.gap({8, 9, 6, 12, 11, 8}, 1);
    CHECK(scene.judged().details.at(0).shuts);
  }
  SECTION("a hole into a pocket: one space") {
    scene.gap({0, 0, 2, 8, 20, 16}, std::numeric_limits<double>::infinity());
    scene.gap({8, 9, 6, 12, 11, 8}, 1);
    CHECK_FALSE(scene.judged().details.at(0).shuts);
  }
  SECTION("two spaces that are joined beside the hole") {
    scene.gap({0, 0, 2, 8, 20, 16}, std::numeric_limits<double>::infinity());
    scene.gap({12, 0, 2, 20, 20, 16}, std::numeric_limits<double>::infinity());
    scene.gap({8, 9, 6, 12, 11, 8}, 1);
    scene.gap({8, 9, 9, 12, 11, 12}, std::numeric_limits<double>::infinity());
    CHECK_FALSE(scene.judged().details.at(0).shuts);
  }
}

TEST_CASE("judge by hand: crumbs") {
  Scene scene(12);
  scene.body({0, 0, 0, 20, 20, 2});
  scene.thin({2, 2, 2, 3, 3, 9}, 10);      // 7 voxels: 0.00088 mm3
  scene.thin({6, 2, 2, 7, 3, 10}, 10);     // 8 voxels: 0.001 mm3
  scene.thin({2, 10, 2, 7, 16, 3}, 10);    // one layer, 30 voxels: 0.00375 mm3
  scene.thin({10, 10, 2, 18, 14, 3}, 10);  // one layer, 32 voxels: 0.004 mm3
  scene.input.dose_spread = 0.05;
  const referee::Judged judged = scene.judged();
  CHECK(judged.crumbs.size() == 2);
  CHECK(judged.details.size() == 2);
}
