// From critical voxels to details on scenes small enough to be worked out by hand (docs/exposure.md, "Details", "Lost
// or rounding", "What a detail carries"). Voxels of 0.05 mm; what flips, and when, is set directly. Without a
// covariance the spread is 5 %: at 2 s what vanishes below 1.95 s has a chance of Phi(ln(1.95 / 2) / 0.05) = 0.31.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <map>

#include "hairline/risk.hpp"
#include "support/text_mask.hpp"

using namespace hairline;

namespace {

constexpr double px = 0.05, voxel_mm3 = px * px * px;
constexpr std::uint32_t side = 20;
constexpr double surely = 10, maybe = 1.95;

struct Block {
  std::uint32_t x0, y0, z0, x1, y1, z1;  // px and layers from 0, half open
};

class Scene {
 public:
  explicit Scene(std::uint32_t layers) : layers_(layers) {
    context.model.bond_time_s = 1, context.model.fuse_time_s = 0.5, context.model.blur_mm = 0.02;
    context.model.penetration_depth_mm = 0.04;
    context.model.valid_from_s = 1.5, context.model.valid_to_s = 4;
    context.pitch = {px, px};
    context.size = {side, side};
    JobSettings job;
    job.layer_count = layers, job.normal_s = 2;
    context.layers = printed_layers(job, 2);
    context.exposure_s = 2;
    context.times_s = {2};
    for (Voxels& layer : layers_) layer.solid = test::Picture({side, side});
  }
  void body(const Block& block) {
    each(block, [](Voxels& layer, std::uint32_t r, std::uint32_t c) { layer.solid.at(r, c) = 1; });
  }
  void thin(const Block& block, double vanish_s) {
    body(block);
    each(block, [&](Voxels& layer, std::uint32_t r, std::uint32_t c) { layer.vanish_s[{r, c}] = vanish_s; });
  }
  void gap(const Block& block, double fuse_s) {
    each(block, [&](Voxels& layer, std::uint32_t r, std::uint32_t c) {
      layer.solid.at(r, c) = 0;
      if (std::isfinite(fuse_s)) layer.fuse_s[{r, c}] = fuse_s;
    });
  }
  RiskFound found() const {
    RiskTracker tracker(context);
    Mask above;
    Pieces above_pieces;
    for (auto n = static_cast<std::uint32_t>(layers_.size()); n >= 1; --n) {
      const Voxels& layer = layers_[n - 1];
      Mask mask = mask_of(layer.solid);
      Pieces pieces = find_pieces(mask);
      std::vector<Contact> contacts;
      if (!above.rows.empty()) contacts = find_contacts(mask, pieces, above, above_pieces);
      above = mask, above_pieces = pieces;
      tracker.add_layer({n, std::move(mask), std::move(pieces), {}, std::move(contacts)});
      CriticalLayer critical;
      critical.layer = n, critical.has_bulk = true;
      critical.vanish = runs(layer.vanish_s), critical.fuse = runs(layer.fuse_s);
      tracker.add_critical(std::move(critical));
    }
    auto result = tracker.finish([&](std::uint32_t n) -> Result<Mask> { return mask_of(layers_[n - 1].solid); });
    REQUIRE(result.has_value());
    return std::move(*result);
  }

  RiskContext context;

 private:
  using Flips = std::map<std::pair<std::uint32_t, std::uint32_t>, double>;  // (row, column): s
  struct Voxels {
    test::Picture solid;
    Flips vanish_s, fuse_s;
  };
  template <class F>
  void each(const Block& b, F f) {
    for (std::uint32_t l = b.z0; l < b.z1; ++l)
      for (std::uint32_t r = b.y0; r < b.y1; ++r)
        for (std::uint32_t c = b.x0; c < b.x1; ++c) f(layers_[l], r, c);
  }
  static std::vector<CriticalRun> runs(const Flips& flips) {
    std::vector<CriticalRun> out;
    for (const auto& [at, critical_s] : flips) {
      const auto& [row, col] = at;
      const auto critical = static_cast<float>(critical_s);
      if (!out.empty() && out.back().row == row && out.back().end == col && out.back().critical_s == critical)
        ++out.back().end;
      else
        out.push_back({row, col, col + 1, critical});
    }
    return out;
  }

  std::vector<Voxels> layers_;
};

// By place: lowest layer, then column.
std::vector<Detail> by_place(std::vector<Detail> details) {
  std::sort(details.begin(), details.end(), [](const Detail& a, const Detail& b) {
    return std::pair(a.from_layer, a.box.from.x) < std::pair(b.from_layer, b.box.from.x);
  });
  return details;
}

}  // namespace

TEST_CASE("details: a neck of four layers under a tower") {
  Scene scene(18);
  scene.body({0, 0, 0, 20, 20, 4});
  scene.thin({9, 9, 4, 11, 11, 8}, surely);
  scene.body({5, 5, 8, 15, 15, 18});
  const RiskFound found = scene.found();
  REQUIRE(found.details.size() == 1);
  const Detail& neck = found.details[0];
  CHECK((neck.fate == Fate::vanish && neck.state == State::will && neck.lost && !neck.base));
  CHECK(neck.from_layer == 5);
  CHECK(neck.to_layer == 8);
  CHECK(neck.volume_mm3 == Approx(16 * voxel_mm3));
  CHECK(neck.depth_mm == Approx(16 * voxel_mm3 / (8 * px * px)));  // four pixels stay below, four above
  CHECK(*neck.share == Approx(1));
  CHECK(*neck.reach_mm == Approx(2 * px));
  CHECK(neck.carries_mm3 == Approx(1000 * voxel_mm3));
  CHECK(neck.extent_mm == Approx(std::hypot(0.1, 0.1, 0.2)));
  CHECK(neck.harm_mm == Approx(std::hypot(0.1, 0.1, 0.2) + std::hypot(0.5, 0.5, 0.5)));
  CHECK(neck.critical_exposure_s == Approx(10));
  CHECK_FALSE(neck.avoidable);  // the record ends at 4 s
  REQUIRE(found.falls.size() == 1);
  CHECK(found.falls[0].layer == 9);
  CHECK(found.falls[0].details == std::vector<std::uint32_t>{1});
}

TEST_CASE("details: a picket of which the lower half will go and the upper may") {
  Scene scene(12);
  scene.body({0, 0, 0, 20, 20, 2});
  scene.thin({9, 9, 2, 11, 11, 7}, surely);
  scene.thin({9, 9, 7, 11, 11, 12}, maybe);
  const std::vector<Detail> details = by_place(scene.found().details);
  REQUIRE(details.size() == 2);
  const Detail &lower = details[0], &upper = details[1];
  CHECK(lower.state == State::will);
  CHECK(lower.depth_mm == Approx(20 * voxel_mm3 / (8 * px * px)));
  CHECK(*lower.share == Approx(20.0 / 36));  // the part is cut to 0.2 mm around: four of the upper five layers
  CHECK(*lower.reach_mm == Approx(3 * px));
  CHECK(lower.lost);
  CHECK(lower.harm_mm == Approx(2 * std::hypot(0.1, 0.1, 0.25)));  // the upper half falls with it
  CHECK(upper.state == State::may);
  CHECK(upper.probability == Approx(0.3063).margin(0.001));
  CHECK(upper.depth_mm == Approx(upper.extent_mm));  // no front: all around is empty, and below is what will go
  CHECK(*upper.share == Approx(1));
  CHECK(*upper.reach_mm == Approx(10 * px));
  CHECK(upper.lost);
  CHECK(upper.harm_mm == 0);  // it touches what is lost anyway
}

TEST_CASE("details: corners join in a layer, over layers only a shared pixel does; the base stays apart") {
  Scene scene(14);
  scene.body({0, 0, 0, 20, 20, 2});
  SECTION("corners in a layer") {
    scene.thin({2, 2, 2, 4, 4, 8}, surely);
    scene.thin({4, 4, 2, 6, 6, 8}, surely);
    REQUIRE(scene.found().details.size() == 1);
    CHECK(scene.found().details[0].volume_mm3 == Approx(48 * voxel_mm3));
  }
  SECTION("corners over layers") {
    scene.thin({2, 2, 2, 4, 4, 8}, surely);
    scene.thin({4, 2, 8, 6, 4, 14}, surely);
    CHECK(scene.found().details.size() == 2);
  }
  SECTION("a shared pixel over layers") {
    scene.thin({2, 2, 2, 4, 4, 8}, surely);
    scene.thin({3, 2, 8, 6, 4, 14}, surely);
    CHECK(scene.found().details.size() == 1);
  }
  SECTION("base layers") {
    scene.thin({2, 2, 0, 4, 4, 8}, surely);
    for (std::size_t i = 0; i < 4; ++i) {
      scene.context.layers[i].kind = LayerKind::base;
      scene.context.layers[i].exposure_s = scene.context.layers[i].fixed_s = 5, scene.context.layers[i].factor = 0;
    }
    const std::vector<Detail> details = by_place(scene.found().details);
    REQUIRE(details.size() == 2);
    CHECK((details[0].base && !details[1].base));
    CHECK(details[0].to_layer == 4);
    CHECK_FALSE(details[0].critical_exposure_s.has_value());
    CHECK(details[1].from_layer == 5);
    CHECK(scene.found().rows[0].point.vanish == 1);  // rows leave the base out
  }
}

TEST_CASE("details: what hangs on what") {
  Scene scene(30);
  scene.body({0, 0, 0, 20, 20, 2});
  SECTION("a rail on two pickets hangs on each, its harm counts once; a tip on top of it carries nothing") {
    scene.thin({3, 9, 2, 4, 10, 12}, surely);
    scene.thin({16, 9, 2, 17, 10, 12}, surely);
    scene.body({2, 8, 12, 18, 12, 22});
    scene.thin({10, 9, 22, 11, 10, 30}, surely);
    const std::vector<Detail> details = by_place(scene.found().details);
    REQUIRE(details.size() == 3);
    CHECK(details[0].carries_mm3 == Approx(640 * voxel_mm3));
    CHECK(details[1].carries_mm3 == Approx(640 * voxel_mm3));
    CHECK(details[2].carries_mm3 == 0);
    const double pickets_mm = details[0].extent_mm + details[1].extent_mm, rail_mm = std::hypot(0.8, 0.2, 0.5);
    CHECK(details[0].harm_mm + details[1].harm_mm == Approx(pickets_mm + rail_mm));
  }
  SECTION("the lower neck of two carries both bodies, the upper one its own") {
    scene.thin({9, 9, 2, 11, 11, 6}, surely);
    scene.body({5, 5, 6, 15, 15, 12});
    scene.thin({9, 9, 12, 11, 11, 16}, surely);
    scene.body({5, 5, 16, 15, 15, 20});
    const std::vector<Detail> details = by_place(scene.found().details);
    REQUIRE(details.size() == 2);
    CHECK(details[0].carries_mm3 == Approx(1000 * voxel_mm3));
    CHECK(details[1].carries_mm3 == Approx(400 * voxel_mm3));
  }
  SECTION("what stands elsewhere too does not fall") {
    scene.thin({3, 9, 2, 4, 10, 12}, surely);
    scene.body({14, 8, 2, 18, 12, 12});
    scene.body({2, 8, 12, 18, 12, 22});
    CHECK(scene.found().details.at(0).carries_mm3 == 0);
  }
  SECTION("a neck that may go carries what the other, which will go, carries then too") {
    scene.thin({3, 9, 2, 4, 10, 12}, surely);
    scene.thin({16, 9, 2, 17, 10, 12}, maybe);
    scene.body({2, 8, 12, 18, 12, 22});
    const std::vector<Detail> details = by_place(scene.found().details);
    REQUIRE(details.size() == 2);
    CHECK(details[0].carries_mm3 == 0);
    CHECK(details[1].state == State::may);
    CHECK(details[1].carries_mm3 == Approx(640 * voxel_mm3));
    CHECK(scene.found().falls.empty());  // as long as it stays
  }
}

TEST_CASE("details: a slot that fills from its bottom, and a gap between two bodies") {
  Scene scene(12);
  SECTION("slot") {
    scene.body({2, 2, 0, 18, 18, 12});
    scene.gap({6, 9, 2, 12, 10, 8}, 1);
    scene.gap({6, 9, 8, 12, 10, 12}, INFINITY);
    const RiskFound found = scene.found();
    REQUIRE(found.details.size() == 1);
    const Detail& slot = found.details[0];
    CHECK(slot.fate == Fate::fuse);
    CHECK(slot.depth_mm == Approx(6 * px));  // its front is its upper face
    CHECK(*slot.share == Approx(0.6));
    CHECK(*slot.reach_mm == Approx(6 * px));
    CHECK((slot.lost && !slot.welds));
  }
  SECTION("two bodies grow together") {
    scene.body({2, 2, 0, 9, 18, 12});
    scene.body({10, 2, 0, 18, 18, 12});
    scene.gap({9, 2, 0, 10, 18, 12}, 1);
    const RiskFound found = scene.found();
    REQUIRE(found.details.size() == 1);
    CHECK((found.details[0].welds && found.details[0].lost));
    // Both ends and the top stay empty; below is the plate.
    CHECK(found.details[0].depth_mm == Approx(16 * 12 * voxel_mm3 / ((2 * 12 + 16) * px * px)));
  }
  SECTION("joined close by, they are one") {
    scene.body({2, 2, 0, 18, 18, 2});
    scene.body({2, 2, 2, 9, 18, 12});
    scene.body({10, 2, 2, 18, 18, 12});
    scene.gap({9, 2, 2, 10, 18, 6}, 1);
    CHECK_FALSE(scene.found().details.at(0).welds);
  }
}

TEST_CASE("details: a hole between two spaces is lost when it closes, however wide these are") {
  Scene scene(16);
  scene.context.model.blur_mm = 0.03;
  scene.body({0, 0, 0, 20, 20, 16});
  scene.gap({1, 0, 2, 8, 20, 16}, INFINITY);
  SECTION("through a wall") {
    scene.gap({12, 0, 2, 19, 20, 16}, INFINITY);
    scene.gap({8, 9, 6, 12, 11, 8}, 1);
    const Detail hole = scene.found().details.at(0);
    CHECK(*hole.share < 0.3);  // narrow grooves, of which it is a small part
    CHECK(hole.lost);
    CHECK(*hole.reach_mm < 0.5);
    CHECK(hole.depth_mm == Approx(2 * px));  // half its length
  }
  SECTION("into a pocket") {
    scene.gap({8, 9, 6, 12, 11, 8}, 1);
    CHECK_FALSE(scene.found().details.at(0).lost);
  }
  SECTION("in a cavity without a way out") {
    scene.body({0, 0, 0, 20, 20, 16});
    scene.gap({8, 9, 6, 9, 11, 8}, INFINITY);
    scene.gap({9, 9, 6, 12, 11, 8}, 1);
    CHECK_FALSE(scene.found().details.at(0).lost);
  }
}

TEST_CASE("details: crumbs by their size, and rows by their times") {
  Scene scene(12);
  scene.body({0, 0, 0, 20, 20, 2});
  scene.thin({2, 2, 2, 3, 3, 9}, surely);      // 7 voxels: 0.00088 mm3
  scene.thin({6, 2, 2, 7, 3, 10}, 3);          // 8 voxels: 0.001 mm3
  scene.thin({2, 10, 2, 7, 16, 3}, surely);    // one layer, 30 voxels: 0.00375 mm3
  scene.thin({10, 10, 2, 18, 14, 3}, surely);  // one layer, 32 voxels: 0.004 mm3
  scene.context.times_s = {1.5, 2, 3.5};
  const RiskFound found = scene.found();
  CHECK(found.crumbs.vanish == 2);
  CHECK(found.crumbs.vanish_mm3 == Approx(37 * voxel_mm3));
  CHECK(found.crumbs.deep_mm3 == Approx(7 * voxel_mm3));  // the flat one is one layer deep
  REQUIRE(found.crumbs.longest);
  CHECK(found.crumbs.longest->from_layer == 3);
  CHECK(found.crumbs.longest->to_layer == 9);
  REQUIRE(found.details.size() == 2);
  CHECK(found.details[0].lost);
  CHECK_FALSE(found.details[1].lost);
  CHECK(found.rounding.vanish == 1);
  REQUIRE(found.rows.size() == 3);
  CHECK(found.rows[0].point.vanish == 1);
  CHECK(found.rows[1].point.vanish == 1);
  CHECK(found.rows[1].point.vanish_mm3 == Approx(8 * voxel_mm3));
  CHECK(found.rows[2].point.vanish == 0);  // the picket of 8 voxels stands from 3 s on
  CHECK(found.rows[2].point.expected_losses == 0);
}
