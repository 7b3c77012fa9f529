// Benchmark plates: they are what their names say, at several sizes, and layers do not depend on the order they are
// drawn in.
#include "hairline/plates.hpp"

#include <catch2/catch.hpp>

#include "support/flood.hpp"

using namespace hairline;

namespace {

// 8-connected (draw may not use measure).
std::uint32_t count_pieces(const Layer& layer) {
  return test::slow_labels(test::picture_of(layer)).count;
}

}  // namespace

TEST_CASE("busy plate: one raft, then 900 supports around 12 lattice bodies") {
  PlateSettings s;
  s.size = {1920, 1080};
  s.pitch = {0.05, 0.05};
  s.layers = 60;
  CHECK(count_pieces(draw_plate_layer(s, 1)) == 1);
  const Layer layer = draw_plate_layer(s, 20);
  const int pieces = count_pieces(layer);
  CHECK(pieces >= 900 + 12);
  const double share = static_cast<double>(area_px(solid(layer))) / (1920.0 * 1080.0);
  CHECK(share > 0.01);
  CHECK(share < 0.4);
  CHECK(decode(layer) == decode(draw_plate_layer(s, 20)));
  s.edges = Edges::hard;
  for (const Run& run : draw_plate_layer(s, 20).runs) REQUIRE(run.value == 255);
}

TEST_CASE("sparse plate: one figure that covers little of the plate and rests on the layer below") {
  PlateSettings s;
  s.kind = PlateKind::sparse;
  s.size = {1280, 720};
  s.layers = 100;
  Mask below;
  for (std::uint32_t n = 1; n <= s.layers; ++n) {
    const Mask now = solid(draw_plate_layer(s, n));
    CHECK(area_px(now) > 0);
    CHECK(area_px(now) < 1280 * 720 / 10);
    if (n > 1) CHECK(overlap_px(below, now) > 0);
    below = now;
  }
}

TEST_CASE("plates at odd sizes and unequal pitch draw without trouble") {
  for (const Size size : {Size{1, 1}, Size{64, 48}, Size{301, 777}}) {
    for (const PlateKind kind : {PlateKind::busy, PlateKind::sparse}) {
      PlateSettings s;
      s.kind = kind;
      s.size = size;
      s.pitch = {0.05, 0.06};
      s.layers = 30;
      for (const std::uint32_t n : {1u, 15u, 30u}) CHECK(draw_plate_layer(s, n).size == size);
    }
  }
}
