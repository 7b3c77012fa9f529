// Benchmark plates: they are what their names say, at several sizes, and layers do not depend on the order they are
// drawn in.
#include "hairline/plates.hpp"

#include <catch2/catch.hpp>
#include <queue>

using namespace hairline;

namespace {

/// 8-connected pieces by flood fill (slow twin; draw may not use measure).
int count_pieces(const Layer& layer) {
  std::vector<std::uint8_t> p = decode(layer);
  const int w = static_cast<int>(layer.size.width_px), h = static_cast<int>(layer.size.height_px);
  int pieces = 0;
  for (int start = 0; start < w * h; ++start) {
    if (p[static_cast<std::size_t>(start)] < solid_from) continue;
    ++pieces;
    std::queue<int> open;
    open.push(start);
    p[static_cast<std::size_t>(start)] = 0;
    while (!open.empty()) {
      const int at = open.front();
      open.pop();
      for (int dy = -1; dy <= 1; ++dy) {
        for (int dx = -1; dx <= 1; ++dx) {
          const int x = at % w + dx, y = at / w + dy;
          if (x < 0 || y < 0 || x >= w || y >= h || p[static_cast<std::size_t>(y * w + x)] < solid_from) continue;
          p[static_cast<std::size_t>(y * w + x)] = 0;
          open.push(y * w + x);
        }
      }
    }
  }
  return pieces;
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
