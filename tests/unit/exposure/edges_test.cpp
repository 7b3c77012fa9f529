// Which tiles have a change of value within reach, against looking at every pixel.
#include "exposure/edges.hpp"

#include <catch2/catch.hpp>

#include "support/random.hpp"

using namespace hairline;
using namespace hairline::exposure;
using hairline::test::Random;

namespace {

// A few boxes of a few values, some of them to the image's edge.
Layer random_layer(Random& random, Size size) {
  std::vector<std::uint8_t> pixels(std::size_t{size.width_px} * size.height_px, random.chance(0.3) ? 255 : 0);
  for (std::uint32_t box = random.below(4); box > 0; --box) {
    const std::uint32_t x0 = random.below(size.width_px), y0 = random.below(size.height_px);
    const std::uint32_t x1 = random.chance(0.3) ? size.width_px : random.between(x0, size.width_px);
    const std::uint32_t y1 = random.chance(0.3) ? size.height_px : random.between(y0, size.height_px);
    const std::uint8_t values[] = {0, 90, 255, 255};
    const std::uint8_t value = values[random.below(4)];
    for (std::uint32_t y = y0; y < y1; ++y)
      for (std::uint32_t x = x0; x < x1; ++x) pixels[std::size_t{y} * size.width_px + x] = value;
  }
  return encode(pixels, size);
}

// The values within reach of a tile's pixels, 0 beyond the image: one value, or more than one.
std::pair<bool, std::uint8_t> look(const std::vector<std::uint8_t>& pixels, Size size, std::uint32_t tx,
                                   std::uint32_t ty, int reach_x, int reach_y) {
  const auto at = [&](int x, int y) -> std::uint8_t {
    if (x < 0 || y < 0 || x >= static_cast<int>(size.width_px) || y >= static_cast<int>(size.height_px)) return 0;
    return pixels[static_cast<std::size_t>(y) * size.width_px + static_cast<std::size_t>(x)];
  };
  const int x0 = static_cast<int>(tx * tile_w), y0 = static_cast<int>(ty * tile_h);
  const int x1 = static_cast<int>(std::min(tx * tile_w + tile_w, size.width_px));
  const int y1 = static_cast<int>(std::min(ty * tile_h + tile_h, size.height_px));
  const std::uint8_t value = at(x0, y0);
  bool near = false;
  for (int y = y0 - reach_y; y < y1 + reach_y; ++y)
    for (int x = x0 - reach_x; x < x1 + reach_x; ++x) near = near || at(x, y) != value;
  return {near, value};
}

}  // namespace

TEST_CASE("edges: near where a value changes within reach, else one value") {
  int near_count = 0, plain = 0;
  for (std::uint64_t seed = 0; seed < 300; ++seed) {
    INFO("seed " << seed);
    Random random(seed);
    const Size size{random.between(1, 400), random.between(1, 150)};
    const Layer layer = random_layer(random, size);
    const std::vector<std::uint8_t> pixels = decode(layer);
    const Grid grid(size);
    const int reach_x = static_cast<int>(random.between(1, 40)), reach_y = static_cast<int>(random.between(1, 40));
    BandEdges edges;
    for (std::uint32_t ty = 0; ty < grid.ny; ++ty) {
      find_edges(layer, grid, ty, reach_x, reach_y, edges);
      REQUIRE(edges.near.size() == grid.nx);
      for (std::uint32_t tx = 0; tx < grid.nx; ++tx) {
        const auto [near, value] = look(pixels, size, tx, ty, reach_x, reach_y);
        CHECK((edges.near[tx] != 0) == near);
        if (!near) CHECK(edges.value[tx] == value);
        near_count += near, plain += !near;
      }
    }
  }
  CHECK(near_count > 1000);
  CHECK(plain > 300);
}

TEST_CASE("edges: strips are neighbours, at most four, from left to right") {
  const auto strips_of = [](std::vector<std::uint8_t> near) {
    BandEdges edges;
    edges.near = std::move(near);
    std::vector<std::pair<std::uint32_t, std::uint32_t>> strips;
    for_each_strip(edges, [&](std::uint32_t first, std::uint32_t count) { strips.emplace_back(first, count); });
    return strips;
  };
  using Strips = std::vector<std::pair<std::uint32_t, std::uint32_t>>;
  CHECK(strips_of({}).empty());
  CHECK(strips_of({0, 0}).empty());
  CHECK(strips_of({1, 0, 1, 1, 0}) == Strips{{0, 1}, {2, 2}});
  CHECK(strips_of({0, 1, 1, 1, 1, 1, 1, 0, 1}) == Strips{{1, 4}, {5, 2}, {8, 1}});
}
