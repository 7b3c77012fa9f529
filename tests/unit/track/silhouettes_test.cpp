// The print from three sides, beside what follows from sizes and heights.
#include "track/silhouettes.hpp"

#include <catch2/catch.hpp>

using namespace hairline;

namespace {

// Columns [x0, x1) and rows [y0, y1) are solid.
Mask box_mask(Size size, const BoxPx& box) {
  std::vector<std::uint8_t> pixels(std::size_t{size.width_px} * size.height_px, 0);
  for (std::uint32_t row = box.y0; row < box.y1; ++row)
    for (std::uint32_t col = box.x0; col < box.x1; ++col) pixels[row * size.width_px + col] = 255;
  return solid(encode(pixels, size));
}

std::vector<PrintedLayer> layers_of(const std::vector<double>& heights_mm) {
  std::vector<PrintedLayer> layers;
  double bottom_mm = 0;
  for (const double height_mm : heights_mm) {
    PrintedLayer& layer = layers.emplace_back();
    layer.height_mm = height_mm;
    layer.bottom_mm = bottom_mm;
    bottom_mm += height_mm;
  }
  return layers;
}

std::uint32_t count(const Raster& raster) {
  return static_cast<std::uint32_t>(
      std::count_if(raster.values.begin(), raster.values.end(), [](std::uint8_t value) { return value > 0; }));
}

std::uint8_t at(const Raster& raster, std::uint32_t row, std::uint32_t col) {
  return raster.values[std::size_t{row} * raster.width_px + col];
}

}  // namespace

// closed form: a box covers its own pixels, and of two the nearer one is seen
TEST_CASE("silhouettes: two boxes, pixel for pixel where nothing is scaled") {
  const Size size{40, 30};
  const auto layers = layers_of(std::vector<double>(10, 0.05));
  SilhouetteDrawer drawer(size, {0.05, 0.05}, layers);
  const BoxPx low{5, 4, 25, 12}, high{10, 20, 14, 26};
  for (std::uint32_t number = 10; number >= 1; --number) drawer.add(number, box_mask(size, number > 4 ? high : low));
  const Silhouettes seen = drawer.finish();
  CHECK((seen.front.width_px == 40 && seen.front.height_px == 10));
  CHECK((seen.side.width_px == 30 && seen.side.height_px == 10));
  CHECK((seen.top.width_px == 40 && seen.top.height_px == 30));
  CHECK(seen.front.pitch_x_mm == Approx(0.05));
  CHECK(count(seen.front) == 4 * 20 + 6 * 4);
  CHECK(count(seen.side) == 4 * 8 + 6 * 6);
  CHECK(count(seen.top) == 20 * 8 + 4 * 6);
  CHECK(at(seen.front, 0, 10) == 255);  // the upper box has the larger y
  CHECK(at(seen.front, 9, 10) == 1);
  CHECK(at(seen.front, 9, 4) == 0);
  CHECK(at(seen.side, 9, 4) == 255);  // the lower one reaches farther right
  CHECK(at(seen.side, 0, 20) == 1);
  CHECK(at(seen.top, 20, 10) == 255);
  CHECK(at(seen.top, 4, 5) == 1);
}

TEST_CASE("silhouettes: a large plate is scaled down, and a wall of one pixel stays one pixel") {
  const Size size{4000, 1000};
  const auto layers = layers_of(std::vector<double>(8, 0.05));
  for (const std::uint32_t col : {0u, 3u, 1998u, 3999u}) {
    SilhouetteDrawer drawer(size, {0.05, 0.05}, layers);
    for (std::uint32_t number = 8; number >= 1; --number) drawer.add(number, box_mask(size, {col, 100, col + 1, 900}));
    const Silhouettes seen = drawer.finish();
    CHECK((seen.front.width_px == 800 && seen.top.height_px == 200));
    CHECK(count(seen.top) == 160);
    CHECK(at(seen.top, 100, col / 5) == 255);
    CHECK(count(seen.front) == seen.front.height_px);
    CHECK(count(seen.side) == 160 * seen.side.height_px);
  }
}

TEST_CASE("silhouettes: heights and pitches may differ; sizes agree within a pixel") {
  const Size size{60, 50};
  const Pitch pitch{0.04, 0.03};
  const auto layers = layers_of({0.1, 0.1, 0.02, 0.02, 0.05, 0.05, 0.05});
  SilhouetteDrawer drawer(size, pitch, layers);
  const BoxPx box{10, 5, 31, 45};
  for (std::uint32_t number = 7; number >= 1; --number) drawer.add(number, box_mask(size, box));
  const Silhouettes seen = drawer.finish();
  const double pixel_mm = seen.front.pitch_x_mm;
  CHECK((seen.front.pitch_y_mm == pixel_mm && seen.top.pitch_x_mm == pixel_mm && seen.side.pitch_y_mm == pixel_mm));
  CHECK(seen.front.width_px * pixel_mm >= 60 * 0.04 - 1e-9);
  CHECK(seen.front.height_px * pixel_mm >= 0.39 - 1e-9);
  CHECK(count(seen.front) == Approx(21 * 0.04 / pixel_mm * 0.39 / pixel_mm).margin(21 * 0.04 / pixel_mm + 13));
  CHECK(count(seen.front) % seen.front.height_px == 0);  // nothing between layers is left out
  CHECK(count(seen.front) / seen.front.height_px == Approx(21 * 0.04 / pixel_mm).margin(1));
  CHECK(count(seen.side) / seen.side.height_px == Approx(40 * 0.03 / pixel_mm).margin(1));
}
