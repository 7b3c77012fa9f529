// Views of layers against the same layer drawn voxel by voxel; the files that pages get, read back by stb_image.
#include "hairline/layer_view.hpp"

#include <catch2/catch.hpp>

#include "support/random.hpp"

#define STB_IMAGE_IMPLEMENTATION
#define STB_IMAGE_STATIC
#define STBI_ONLY_PNG
#define STBI_NO_STDIO
#include <stb/stb_image.h>

using namespace hairline;

namespace {

constexpr Size size{61, 37};

struct Drawn {
  Mask solid;
  LayerFlips flips;
  std::vector<std::uint8_t> mask, cured_from;  // of each voxel
};

// Three times; each voxel is solid or not, and flips at some of them or not.
Drawn random_layer(std::uint64_t seed) {
  test::Random random(seed);
  Drawn out;
  out.flips.bonds_from = 1;
  for (std::uint32_t i = 0; i < size.width_px * size.height_px; ++i) {
    out.mask.push_back(random.chance(0.5) ? 255 : 0);
    out.cured_from.push_back(static_cast<std::uint8_t>(random.chance(0.1)       ? random.below(4)
                                                       : out.mask.back() == 255 ? 0
                                                                                : 3));
    const std::uint32_t row = i / size.width_px, col = i % size.width_px;
    const bool solid = out.mask.back() == 255;
    if (out.cured_from.back() != (solid ? 0 : 3))
      (solid ? out.flips.vanish : out.flips.fuse).push_back({row, col, col + 1, out.cured_from.back()});
  }
  out.solid = solid(encode(out.mask, size));
  return out;
}

std::uint8_t becomes(const Drawn& layer, std::uint32_t row, std::uint32_t col, std::uint32_t time) {
  const std::size_t at = row * size.width_px + col;
  const bool drawn = layer.mask[at] == 255, cured = time >= layer.cured_from[at];
  const bool stays = cured && (!drawn || time >= layer.flips.bonds_from);
  return static_cast<std::uint8_t>(drawn ? (stays ? Becomes::kept : Becomes::missing)
                                         : (cured ? Becomes::filled : Becomes::empty));
}

struct Picture {
  int width = 0, height = 0, channels = 0;
  std::vector<std::uint8_t> bytes;
};

Picture read_back(const std::string& file, int as_channels) {
  Picture out;
  stbi_uc* data = stbi_load_from_memory(reinterpret_cast<const stbi_uc*>(file.data()), static_cast<int>(file.size()),
                                        &out.width, &out.height, &out.channels, as_channels);
  REQUIRE(data != nullptr);
  out.bytes.assign(data, data + std::size_t{1} * out.width * out.height * as_channels);
  stbi_image_free(data);
  return out;
}

}  // namespace

TEST_CASE("layer view: each pixel is the gravest of its voxels, at every time, in any part and size") {
  test::Random random(3);
  for (std::uint64_t seed = 1; seed <= 30; ++seed) {
    const Drawn layer = random_layer(seed);
    const std::uint32_t x0 = random.below(size.width_px), y0 = random.below(size.height_px);
    const BoxPx box{x0, y0, random.between(x0 + 1, size.width_px), random.between(y0 + 1, size.height_px)};
    const std::uint32_t wide = box.x1 - box.x0, high = box.y1 - box.y0;
    const LayerView view{box, random.between(1, 80), random.between(1, 80)};
    for (std::uint32_t time = 0; time < 3; ++time) {
      const auto seen = layer_view(layer.solid, layer.flips, time, {0.02, 0.03}, view);
      REQUIRE(seen);
      const std::uint32_t width = std::min(wide, view.width_px), height = std::min(high, view.height_px);
      REQUIRE((seen->width_px == width && seen->height_px == height));
      CHECK(seen->pitch_x_mm * width == Approx(0.02 * wide));
      std::vector<std::uint8_t> wanted(std::size_t{width} * height, 0);
      for (std::uint32_t row = box.y0; row < box.y1; ++row)
        for (std::uint32_t col = box.x0; col < box.x1; ++col) {
          std::uint8_t& value = wanted[(row - box.y0) * height / high * width + (col - box.x0) * width / wide];
          value = std::max(value, becomes(layer, row, col, time));
        }
      CHECK(seen->values == wanted);
    }
  }
}

TEST_CASE("layer changes: pieces by sides and corners, and their area") {
  // Drawn: a bar in rows 1 and 2, columns 2 to 8. Closed: two pixels by a corner, and one alone.
  std::vector<std::uint8_t> mask(size.width_px * size.height_px, 0);
  for (std::uint32_t row = 1; row < 3; ++row)
    for (std::uint32_t col = 2; col < 9; ++col) mask[row * size.width_px + col] = 255;
  LayerFlips flips;
  flips.bonds_from = 1;
  flips.vanish = {{1, 2, 4, 2}, {1, 4, 5, 3}, {2, 7, 9, 3}};
  flips.fuse = {{10, 3, 4, 2}, {11, 4, 5, 2}, {20, 8, 9, 1}};
  const auto at = [&](std::uint32_t time) { return layer_changes(solid(encode(mask, size)), flips, time, {0.1, 0.2}); };
  const LayerChanges none_bonds = at(0), middle = at(1), late = at(2), last = at(3);
  CHECK((none_bonds.missing == 1 && none_bonds.filled == 0));
  CHECK(none_bonds.missing_mm2 == Approx(14 * 0.02));
  CHECK((middle.missing == 2 && middle.filled == 1));
  CHECK(middle.missing_mm2 == Approx(5 * 0.02));
  CHECK((late.missing == 2 && late.filled == 2));
  CHECK(late.missing_mm2 == Approx(3 * 0.02));
  CHECK(late.filled_mm2 == Approx(3 * 0.02));
  CHECK((last.missing == 0 && last.missing_mm2 == 0));
}

TEST_CASE("layer view: without times it is as drawn") {
  const Drawn layer = random_layer(9);
  const auto seen = layer_view(layer.solid, {}, 0, {}, {{0, 0, size.width_px, size.height_px}, 2000, 2000});
  REQUIRE(seen);
  for (std::size_t i = 0; i < layer.mask.size(); ++i)
    CHECK(seen->values[i] == static_cast<std::uint8_t>(layer.mask[i] == 255 ? Becomes::kept : Becomes::empty));
}

TEST_CASE("layer view: parts that are none, and sizes that are too large") {
  const Drawn layer = random_layer(9);
  const auto refused = [&](const LayerView& view) {
    const auto seen = layer_view(layer.solid, layer.flips, 0, {}, view);
    return !seen && seen.error().kind == ErrorKind::invalid;
  };
  const BoxPx all{0, 0, size.width_px, size.height_px};
  CHECK_FALSE(refused({all, 1, 1}));
  CHECK(refused({all, 0, 1}));
  CHECK(refused({all, 2001, 1}));
  CHECK(refused({{0, 0, size.width_px + 1, 1}, 5, 5}));
  CHECK(refused({{0, 0, 1, size.height_px + 1}, 5, 5}));
  CHECK(refused({{5, 0, 5, 1}, 5, 5}));
  CHECK(refused({{6, 0, 5, 1}, 5, 5}));
}

TEST_CASE("layer view: the file has the colours and patterns of the report's pictures") {
  Raster raster{4, 2, 1, 1, {0, 1, 2, 3, 0, 1, 2, 3}};
  const Picture seen = read_back(layer_png(raster), 3);
  REQUIRE((seen.width == 4 && seen.height == 2));
  CHECK(seen.bytes == std::vector<std::uint8_t>{246, 243, 236, 110, 118, 124, 213, 94,  0,   0,  114, 178,  //
                                                246, 243, 236, 110, 118, 124, 245, 178, 128, 86, 180, 233});
}

TEST_CASE("thumbnail: small, clear where nothing is, and nothing thin is lost") {
  Silhouettes print;
  print.front = {700, 401, 0.1, 0.1, std::vector<std::uint8_t>(700 * 401, 0)};
  for (std::uint32_t row = 0; row < 401; ++row) print.front.values[row * 700 + 350] = 200;  // one pixel wide
  const Picture seen = read_back(thumbnail_png(print), 2);
  REQUIRE((seen.width == 140 && seen.height == 81));  // one for five, rounded up
  for (int row = 0; row < seen.height; ++row)
    for (int col = 0; col < seen.width; ++col)
      CHECK(seen.bytes[2 * (row * seen.width + col) + 1] == (col == 70 ? 255 : 0));
}
