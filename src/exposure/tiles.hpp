/// The plate cut into tiles of 64 x 32 pixels, so that one tile row of a yes/no map is one machine word.
///
///     bit i of row y of tile (tx, ty)  =  pixel (row 32 ty + y, column 64 tx + i)
#pragma once
#include <array>
#include <cstdint>
#include <cstring>
#include <vector>

#include "../base/vector_clones.hpp"
#include "hairline/layer.hpp"

namespace hairline::exposure {

inline constexpr std::uint32_t tile_w = 64, tile_h = 32, tile_px = tile_w * tile_h;

using TileBits = std::array<std::uint64_t, tile_h>;

struct Grid {
  Size size;
  std::uint32_t nx = 0, ny = 0;
  explicit Grid(Size image)
      : size(image), nx((image.width_px + tile_w - 1) / tile_w), ny((image.height_px + tile_h - 1) / tile_h) {}
  Grid() = default;
  std::uint32_t count() const { return nx * ny; }
  std::uint32_t tile_of(std::uint32_t row, std::uint32_t col) const { return row / tile_h * nx + col / tile_w; }
  /// Bits of row y of a tile that lie inside the image.
  std::uint64_t inside(std::uint32_t tx, std::uint32_t ty, std::uint32_t y) const {
    if (ty * tile_h + y >= size.height_px) return 0;
    const std::uint32_t left = size.width_px - tx * tile_w;
    return left >= tile_w ? ~std::uint64_t{0} : (std::uint64_t{1} << left) - 1;
  }
};

/// Offsets within a distance: for each row offset dy = -reach_y..reach_y the largest |dx|, or -1 where none.
struct Disc {
  std::vector<int> half_width;
  int reach_x = 0, reach_y = 0;
  int at(int dy) const { return half_width[static_cast<std::size_t>(dy + reach_y)]; }
};
Disc make_disc(double radius_mm, Pitch pitch);

/// The bits of a tile and its eight neighbours, row by row from the top left; null: none set. Not owned.
struct Neighbours {
  std::array<const TileBits*, 9> tile{};
  const TileBits& middle() const { return *tile[4]; }
};

/// Bits of the middle tile grown by a disc (reach at most one tile each way).
TileBits grown(const Neighbours& bits, const Disc& disc);
/// Bits of the middle tile closed by a disc: grown, then shrunk (twice the reach at most one tile each way).
/// Only rows in which `wanted` has any bit are worked out.
TileBits closed(const Neighbours& bits, const Disc& disc, const TileBits& wanted);

/// Tiles with a value change within reach of their pixels (the image's outside is 0); one byte per tile.
void mark_near_edges(const Layer& layer, const Grid& grid, int reach_x, int reach_y, std::vector<std::uint8_t>& near);

}  // namespace hairline::exposure
