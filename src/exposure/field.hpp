/// Settled light of one band, from the top layer down.
///
/// A_n = t_n B_n + exp(-h_{n+1}/Dp) A_{n+1}, kept per tile as  offset + scale * data.  Where a layer's light is uniform
/// over a tile the step changes only the two numbers, so a tile costs pixel work only while an edge is near it; when
/// what is left of its pattern is too faint to matter, the pattern is dropped.
#pragma once
#include <cstdint>
#include <memory>
#include <vector>

#include "tiles.hpp"

namespace hairline::exposure {

/// Light of one tile among its neighbours: row y begins at value[y * stride].
struct TileLight {
  const float* value = nullptr;
  std::size_t stride = tile_w;
};

/// bits = light > above, where `within`.
void compare_above(const TileLight& light, float above, const TileBits& within, TileBits& bits);

class FieldBand {
 public:
  /// `too_faint`: a tile's pattern is dropped when it spans less than this.
  FieldBand(std::uint32_t tiles, float too_faint) : tiles_(tiles), too_faint_(too_faint) {}

  /// Says that a tile's pattern will be needed soon, so that it is fetched from memory meanwhile.
  void expect(std::uint32_t tx) const;
  /// One step down for one tile: what was there is dimmed by `pass`, and the layer's light comes on top.
  void add_uniform(std::uint32_t tx, float light, float pass);
  void add(std::uint32_t tx, const TileLight& light, float weight, float pass);

  float at(std::uint32_t tx, std::uint32_t y, std::uint32_t x) const {
    const Tile& tile = tiles_[tx];
    return tile.data < 0 ? tile.offset : tile.offset + tile.scale * pixels(tile)[y * tile_w + x];
  }
  bool uniform(std::uint32_t tx) const { return tiles_[tx].data < 0; }
  /// bits = value > above, where `within`.
  void compare(std::uint32_t tx, float above, const TileBits& within, TileBits& bits) const;
  /// Adds times * field to one tile's values.
  void add_to(std::uint32_t tx, float times, float* out) const;
  /// Memory of the patterns.
  std::uint64_t bytes() const { return blocks_.size() * block_tiles * tile_px * sizeof(float); }

 private:
  struct Tile {
    float scale = 1, offset = 0, lowest = 0, highest = 0;
    std::int32_t data = -1;
  };
  static constexpr std::size_t block_tiles = 8;  // 64 KiB at a time
  float* pixels(const Tile& tile) const {
    const auto i = static_cast<std::size_t>(tile.data);
    return blocks_[i / block_tiles].get() + i % block_tiles * tile_px;
  }
  void drop(Tile& tile);
  std::int32_t take_pixels();

  std::vector<Tile> tiles_;
  float too_faint_;
  std::vector<std::unique_ptr<float[]>> blocks_;
  std::vector<std::int32_t> free_;
};

}  // namespace hairline::exposure
