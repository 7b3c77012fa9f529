/// One field of settled light over the plate, from the top layer down.
///
/// A_n = t_n B_n + exp(-h_{n+1}/Dp) A_{n+1}, kept per tile as  offset + scale * data.  Where a layer's light is uniform
/// over a tile the step changes only the two numbers, so a tile costs pixel work only while an edge is near it; when
/// what is left of its pattern is too faint to matter, the pattern is dropped.
#pragma once
#include <cstdint>
#include <memory>
#include <vector>

#include "context.hpp"
#include "neighbourhood.hpp"

namespace hairline::exposure {

class Field {
 public:
  /// `too_faint`: a tile's pattern is dropped when it spans less than this.
  Field(std::uint32_t tiles, float too_faint) : tiles_(tiles), too_faint_(too_faint) {}

  /// One step down: what was there is dimmed by `pass`, and the layer's light comes on top with `weight`. `look(tile)`
  /// is called for each tile the light has an edge in, while its values are at hand.
  template <class Look>
  void step(const CastLight::State& light, float weight, float pass, Look look) {
    for (std::uint32_t t = 0; t < tiles_.size(); ++t) {
      if (weight != 0 && light.dense[t] >= 0) {
        blend_tile(tiles_[t], light.tile(t), weight, pass);
        look(t);
      } else {
        dim_tile(tiles_[t], weight * light.uniform[t], pass);
      }
    }
  }
  float at(std::uint32_t t, std::uint32_t y, std::uint32_t x) const {
    const Tile& tile = tiles_[t];
    return tile.data < 0 ? tile.offset : tile.offset + tile.scale * pixels(tile)[y * tile_w + x];
  }
  bool uniform(std::uint32_t t) const { return tiles_[t].data < 0; }
  /// bits = value > above, for one tile.
  void compare(std::uint32_t t, float above, TileBits& bits) const;
  /// Adds times * field to one tile's values.
  void add_to(std::uint32_t t, float times, float* out) const;

 private:
  struct Tile {
    float scale = 1, offset = 0, lowest = 0, highest = 0;
    std::int32_t data = -1;
  };
  static constexpr std::size_t block_tiles = 256;  // 2 MiB at a time
  float* pixels(const Tile& tile) const {
    const auto i = static_cast<std::size_t>(tile.data);
    return blocks_[i / block_tiles].get() + i % block_tiles * tile_px;
  }
  void drop(Tile& tile);
  std::int32_t take_pixels();
  void dim_tile(Tile& tile, float light, float pass);
  void blend_tile(Tile& tile, const float* light, float weight, float pass);

  std::vector<Tile> tiles_;
  float too_faint_;
  std::vector<std::unique_ptr<float[]>> blocks_;
  std::vector<std::int32_t> free_;
};

}  // namespace hairline::exposure
