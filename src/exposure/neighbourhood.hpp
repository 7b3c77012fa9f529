/// Searches in a tile and its neighbours, shared by what may vanish and what may fuse.
#pragma once
#include <algorithm>
#include <bit>
#include <cstdint>
#include <limits>
#include <vector>

#include "blur.hpp"
#include "tiles.hpp"

namespace hairline::exposure {

/// Values of a tile and its surroundings: (tile_h + 2 reach_y) rows of (tile_w + 2 reach_x).
struct ValueWindow {
  int reach_x = 0, reach_y = 0, width = 0;
  std::vector<float> value;
  explicit ValueWindow(const Disc& reach)
      : reach_x(reach.reach_x),
        reach_y(reach.reach_y),
        width(static_cast<int>(tile_w) + 2 * reach.reach_x),
        value(static_cast<std::size_t>(width) * (tile_h + 2 * static_cast<std::size_t>(reach.reach_y))) {}
};

inline bool is_solid(float value) {
  return value >= static_cast<float>(solid_from) / 255.0f;
}

inline TileBits minus(TileBits a, const TileBits& b) {
  for (std::uint32_t y = 0; y < tile_h; ++y) a[y] &= ~b[y];
  return a;
}
inline TileBits both(TileBits a, const TileBits& b) {
  for (std::uint32_t y = 0; y < tile_h; ++y) a[y] &= b[y];
  return a;
}
inline bool none(const TileBits& bits) {
  std::uint64_t any = 0;
  for (const std::uint64_t row : bits) any |= row;
  return any == 0;
}
inline std::uint32_t count(const TileBits& bits) {
  int n = 0;
  for (const std::uint64_t row : bits) n += std::popcount(row);
  return static_cast<std::uint32_t>(n);
}
/// All pixels of a tile inside the image.
inline TileBits inside(const Grid& grid, std::uint32_t t) {
  TileBits bits;
  for (std::uint32_t y = 0; y < tile_h; ++y) bits[y] = grid.inside(t % grid.nx, t / grid.nx, y);
  return bits;
}
template <class Use>
void for_each_bit(std::uint64_t bits, Use use) {
  for (; bits != 0; bits &= bits - 1) use(static_cast<std::uint32_t>(std::countr_zero(bits)));
}

/// bits = value > above, for one tile.
void compare_above(const float* value, float above, TileBits& bits);

/// A tile and its neighbours; `bits_of(tile)` gives a pointer to one tile's bits, or null for none.
template <class BitsOf>
Neighbours neighbours(const Grid& grid, std::uint32_t t, BitsOf bits_of) {
  Neighbours bits;
  const std::uint32_t tx = t % grid.nx, ty = t / grid.nx;
  for (std::uint32_t i = 0; i < 9; ++i) {
    const std::uint32_t x = tx + i % 3, y = ty + i / 3;  // one too many
    if (x < 1 || y < 1 || x > grid.nx || y > grid.ny) continue;
    bits.tile[i] = bits_of((y - 1) * grid.nx + x - 1);
  }
  return bits;
}

/// The window's rectangle in image pixels.
inline Rect window_rect(const Grid& grid, std::uint32_t t, const Disc& reach) {
  return {static_cast<int>(t % grid.nx * tile_w) - reach.reach_x,
          static_cast<int>(t / grid.nx * tile_h) - reach.reach_y, static_cast<int>(tile_w) + 2 * reach.reach_x,
          static_cast<int>(tile_h) + 2 * reach.reach_y};
}

/// Fills a window, row by row and tile by tile: `fill(tile, y, x, count, out)` writes `count` values of a tile's row y
/// from column x on; `outside` fills what lies beyond the image.
template <class Fill>
void fill_window(ValueWindow& window, const Grid& grid, std::uint32_t t, float outside, Fill fill) {
  const Rect rect = window_rect(grid, t, {{}, window.reach_x, window.reach_y});
  const int width = static_cast<int>(grid.size.width_px), height = static_cast<int>(grid.size.height_px);
  const int from = std::max(rect.x, 0), to = std::min(rect.x + rect.width, width);
  if (from > rect.x || to < rect.x + rect.width || rect.y < 0 || rect.y + rect.height > height) {
    std::fill(window.value.begin(), window.value.end(), outside);
  }
  for (int y = std::max(rect.y, 0); y < std::min(rect.y + rect.height, height); ++y) {
    float* row = window.value.data() + (y - rect.y) * rect.width - rect.x;
    for (int x = from; x < to;) {
      const int next = std::min(to, (x / static_cast<int>(tile_w) + 1) * static_cast<int>(tile_w));
      const auto col = static_cast<std::uint32_t>(x), line = static_cast<std::uint32_t>(y);
      fill(grid.tile_of(line, col), line % tile_h, col % tile_w, static_cast<std::uint32_t>(next - x), row + x);
      x = next;
    }
  }
}

/// Largest / smallest value within reach of each pixel of the tile, for the rows in which `wanted` has any bit; out:
/// tile_px values.
void neighbourhood_max(const ValueWindow& window, const Disc& reach, const TileBits& wanted, float* out);
void neighbourhood_min(const ValueWindow& window, const Disc& reach, const TileBits& wanted, float* out);

}  // namespace hairline::exposure
