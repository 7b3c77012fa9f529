/// The plate cut into tiles of 64 x 32 pixels, so that one tile row of a yes/no map is one machine word.
///
///     bit i of row y of tile (tx, ty)  =  pixel (row 32 ty + y, column 64 tx + i)
///
/// One row of tiles is a *band*: what bands are worked on in parallel.
#pragma once
#include <array>
#include <cstdint>
#include <vector>

#include "../base/vector_clones.hpp"
#include "hairline/layer.hpp"

namespace hairline::exposure {

inline constexpr std::uint32_t tile_w = 64, tile_h = 32, tile_px = tile_w * tile_h;

using TileBits = std::array<std::uint64_t, tile_h>;
inline constexpr TileBits no_bits{};
extern const TileBits all_bits;

struct Grid {
  Size size;
  std::uint32_t nx = 0, ny = 0;
  explicit Grid(Size image)
      : size(image), nx((image.width_px + tile_w - 1) / tile_w), ny((image.height_px + tile_h - 1) / tile_h) {}
  Grid() = default;
  /// Bits of a tile that lie inside the image; do all of them?
  TileBits inside(std::uint32_t tx, std::uint32_t ty) const;
  bool whole(std::uint32_t tx, std::uint32_t ty) const {
    return (tx + 1) * tile_w <= size.width_px && (ty + 1) * tile_h <= size.height_px;
  }
};

bool none(const TileBits& bits);
/// Do a and b share a pixel?
bool meet(const TileBits& a, const TileBits& b);
/// Only those that others have / have not, and whether any is left.
bool keep_only(TileBits& bits, const TileBits& others);
bool take_away(TileBits& bits, const TileBits& others);
void add_to(TileBits& bits, const TileBits& others);

/// The bits of one band; tiles without any bit, or with all of them, take no room.
class BitBand {
 public:
  /// All tiles empty.
  void clear(std::uint32_t tiles);
  void set(std::uint32_t tx, const TileBits& bits);
  void fill(std::uint32_t tx) { slot_[tx] = full_; }
  const TileBits& at(std::uint32_t tx) const {
    return slot_[tx] == empty_ ? no_bits : slot_[tx] == full_ ? all_bits : bits_[slot_[tx]];
  }
  bool empty(std::uint32_t tx) const { return slot_[tx] == empty_; }
  bool full(std::uint32_t tx) const { return slot_[tx] == full_; }

 private:
  static constexpr std::uint32_t empty_ = UINT32_MAX, full_ = UINT32_MAX - 1;
  std::vector<std::uint32_t> slot_;
  std::vector<TileBits> bits_;
};

/// Offsets within a distance: for each row offset dy = -reach_y..reach_y the largest |dx|, or -1 where none.
struct Disc {
  std::vector<int> half_width;
  int reach_x = 0, reach_y = 0;
  int at(int dy) const { return half_width[static_cast<std::size_t>(dy + reach_y)]; }
};
Disc make_disc(double radius_mm, Pitch pitch);

/// The bits of a tile and its eight neighbours, row by row from the top left. Not owned, never null.
using Neighbours = std::array<const TileBits*, 9>;

/// Bits of the middle tile grown by a disc (reach at most one tile each way).
TileBits grown(const Neighbours& bits, const Disc& disc);
/// Bits of the middle tile closed by a disc: grown, then shrunk (twice the reach at most one tile each way).
TileBits closed(const Neighbours& bits, const Disc& disc);

}  // namespace hairline::exposure
