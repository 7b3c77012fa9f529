// Bits of tiles against the same thing pixel by pixel.
#include "exposure/tiles.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "support/random.hpp"
#include "support/text_mask.hpp"

using namespace hairline;
using namespace hairline::exposure;
using hairline::test::Picture;
using hairline::test::Random;

namespace {

bool bit(const TileBits& bits, std::uint32_t x, std::uint32_t y) {
  return (bits[y] >> x & 1) != 0;
}

template <class F>
void each_pixel(F f) {
  for (std::uint32_t y = 0; y < tile_h; ++y)
    for (std::uint32_t x = 0; x < tile_w; ++x) f(x, y);
}

// From empty to full.
TileBits random_bits(Random& random) {
  TileBits bits{};
  const double share = random.unit() < 0.3 ? 0.01 : random.unit();
  each_pixel([&](std::uint32_t x, std::uint32_t y) { bits[y] |= std::uint64_t{random.chance(share)} << x; });
  return bits;
}

// Three by three tiles as one picture.
Picture picture_of(const std::array<TileBits, 9>& tiles) {
  Picture picture(Size{3 * tile_w, 3 * tile_h});
  for (std::uint32_t row = 0; row < picture.size.height_px; ++row)
    for (std::uint32_t col = 0; col < picture.size.width_px; ++col)
      picture.at(row, col) = bit(tiles[row / tile_h * 3 + col / tile_w], col % tile_w, row % tile_h);
  return picture;
}

// Pixels with one of `value` within the disc, by the disc's definition; beyond the picture there is none.
Picture near(const Picture& in, bool value, double radius_mm, Pitch pitch) {
  Picture out(in.size);
  const int down = static_cast<int>(radius_mm / pitch.y_mm) + 1, right = static_cast<int>(radius_mm / pitch.x_mm) + 1;
  for (int row = 0; row < static_cast<int>(in.size.height_px); ++row) {
    for (int col = 0; col < static_cast<int>(in.size.width_px); ++col) {
      for (int dy = -down; dy <= down; ++dy) {
        for (int dx = -right; dx <= right; ++dx) {
          if (std::hypot(dx * pitch.x_mm, dy * pitch.y_mm) > radius_mm * (1 + 1e-9)) continue;
          const int r = row + dy, c = col + dx;
          if (r < 0 || c < 0 || r >= static_cast<int>(in.size.height_px) || c >= static_cast<int>(in.size.width_px))
            continue;
          if (in.set(r, c) == value) out.at(static_cast<std::uint32_t>(row), static_cast<std::uint32_t>(col)) = 1;
        }
      }
    }
  }
  return out;
}

int differing(const TileBits& bits, const Picture& picture, bool value) {
  int count = 0;
  each_pixel([&](std::uint32_t x, std::uint32_t y) {
    count += bit(bits, x, y) != ((picture.at(tile_h + y, tile_w + x) != 0) == value);
  });
  return count;
}

}  // namespace

TEST_CASE("tiles: bits inside the image") {
  for (const Size size : {Size{1, 1}, Size{64, 32}, Size{65, 33}, Size{127, 95}, Size{128, 96}}) {
    const Grid grid(size);
    CHECK(grid.nx == (size.width_px + 63) / 64);
    CHECK(grid.ny == (size.height_px + 31) / 32);
    for (std::uint32_t ty = 0; ty < grid.ny; ++ty) {
      for (std::uint32_t tx = 0; tx < grid.nx; ++tx) {
        const TileBits bits = grid.inside(tx, ty);
        CHECK(grid.whole(tx, ty) == (bits == all_bits));
        int wrong = 0;
        each_pixel([&](std::uint32_t x, std::uint32_t y) {
          wrong += bit(bits, x, y) != (tx * tile_w + x < size.width_px && ty * tile_h + y < size.height_px);
        });
        CHECK(wrong == 0);
      }
    }
  }
}

TEST_CASE("tiles: set operations, bit by bit") {
  Random random(1);
  for (int i = 0; i < 200; ++i) {
    const TileBits a = random_bits(random), b = random_bits(random);
    TileBits kept = a, left = a, sum = a;
    const bool any_kept = keep_only(kept, b), any_left = take_away(left, b);
    add_to(sum, b);
    int wrong = 0, both = 0, only = 0, set = 0;
    each_pixel([&](std::uint32_t x, std::uint32_t y) {
      const bool in_a = bit(a, x, y), in_b = bit(b, x, y);
      both += in_a && in_b, only += in_a && !in_b, set += in_a;
      wrong +=
          bit(kept, x, y) != (in_a && in_b) || bit(left, x, y) != (in_a && !in_b) || bit(sum, x, y) != (in_a || in_b);
    });
    CHECK(wrong == 0);
    CHECK(any_kept == (both > 0));
    CHECK(meet(a, b) == (both > 0));
    CHECK(any_left == (only > 0));
    CHECK(none(a) == (set == 0));
  }
}

TEST_CASE("tiles: a band gives back what was set") {
  Random random(2);
  BitBand band;
  for (int round = 0; round < 3; ++round) {
    std::vector<TileBits> expected(20, no_bits);
    band.clear(20);
    for (std::uint32_t tx = 0; tx < 20; ++tx) {
      const std::uint32_t what = random.below(4);  // 0: left empty
      if (what == 1) expected[tx] = all_bits, band.fill(tx);
      if (what == 2) expected[tx] = random_bits(random), band.set(tx, expected[tx]);
      if (what == 3) band.set(tx, expected[tx] = random.chance(0.5) ? all_bits : no_bits);
    }
    for (std::uint32_t tx = 0; tx < 20; ++tx) {
      CHECK(band.at(tx) == expected[tx]);
      CHECK(band.empty(tx) == (expected[tx] == no_bits));
      CHECK(band.full(tx) == (expected[tx] == all_bits));
    }
  }
}

TEST_CASE("tiles: grown by a disc") {
  Random random(3);
  for (const auto& [radius_mm, pitch] :
       {std::pair{0.0, Pitch{0.05, 0.05}}, std::pair{0.15, Pitch{0.05, 0.05}}, std::pair{0.36, Pitch{0.022, 0.029}},
        std::pair{1.55, Pitch{0.05, 0.05}}, std::pair{0.7, Pitch{0.05, 0.1}}}) {
    INFO("radius " << radius_mm);
    std::array<TileBits, 9> tiles;
    for (TileBits& tile : tiles) {
      tile = no_bits;
      for (int i = 0; i < 6; ++i) tile[random.below(tile_h)] |= std::uint64_t{1} << random.below(tile_w);
    }
    Neighbours neighbours;
    for (std::size_t i = 0; i < 9; ++i) neighbours[i] = &tiles[i];
    const TileBits bits = grown(neighbours, make_disc(radius_mm, pitch));
    CHECK(differing(bits, near(picture_of(tiles), true, radius_mm, pitch), true) == 0);
  }
}

TEST_CASE("tiles: closed by a disc") {
  Random random(4);
  for (const auto& [radius_mm, pitch] :
       {std::pair{0.1, Pitch{0.05, 0.05}}, std::pair{0.36, Pitch{0.022, 0.029}}, std::pair{0.8, Pitch{0.05, 0.05}}}) {
    for (const double share : {0.001, 0.02, 0.3}) {
      INFO("radius " << radius_mm << " share " << share);
      std::array<TileBits, 9> tiles;
      for (TileBits& tile : tiles) {
        tile = no_bits;
        each_pixel([&](std::uint32_t x, std::uint32_t y) { tile[y] |= std::uint64_t{random.chance(share)} << x; });
      }
      Neighbours neighbours;
      for (std::size_t i = 0; i < 9; ++i) neighbours[i] = &tiles[i];
      const TileBits bits = closed(neighbours, make_disc(radius_mm, pitch));
      // Grown, then shrunk: what is near a pixel that the growing left empty goes again.
      const Picture big = near(picture_of(tiles), true, radius_mm, pitch);
      CHECK(differing(bits, near(big, false, radius_mm, pitch), false) == 0);
    }
  }
}
