/// Searches in a tile and its neighbours, shared by what may vanish and what may fuse.
#pragma once
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

/// Fills a window: `value_at(tile, y, x)` inside the image, `outside` elsewhere.
template <class ValueAt>
void fill_window(ValueWindow& window, const Grid& grid, std::uint32_t t, ValueAt value_at, float outside) {
  const Rect rect = window_rect(grid, t, {{}, window.reach_x, window.reach_y});
  float* out = window.value.data();
  for (int y = rect.y; y < rect.y + rect.height; ++y) {
    for (int x = rect.x; x < rect.x + rect.width; ++x, ++out) {
      if (x < 0 || y < 0 || x >= static_cast<int>(grid.size.width_px) || y >= static_cast<int>(grid.size.height_px)) {
        *out = outside;
      } else {
        const auto row = static_cast<std::uint32_t>(y), col = static_cast<std::uint32_t>(x);
        *out = value_at(grid.tile_of(row, col), row % tile_h, col % tile_w);
      }
    }
  }
}

/// Largest / smallest value within reach of each pixel of the tile; out: tile_px values.
void neighbourhood_max(const ValueWindow& window, const Disc& reach, float* out);
void neighbourhood_min(const ValueWindow& window, const Disc& reach, float* out);

}  // namespace hairline::exposure
