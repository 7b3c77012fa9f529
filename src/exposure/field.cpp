#include "field.hpp"

#include <algorithm>
#include <cmath>

namespace hairline::exposure {
namespace {

HAIRLINE_VECTOR_CLONES
void blend(float* data, float keep, float offset, const float* light, float weight, float* lowest, float* highest) {
  float low = INFINITY, high = -INFINITY;
  for (std::uint32_t i = 0; i < tile_px; ++i) {
    const float value = weight * light[i] + (keep * data[i] + offset);
    data[i] = value;
    low = low < value ? low : value;
    high = high > value ? high : value;
  }
  *lowest = low;
  *highest = high;
}

HAIRLINE_VECTOR_CLONES
void add_scaled(float* into, const float* data, float scale, float offset) {
  for (std::uint32_t i = 0; i < tile_px; ++i) into[i] += scale * data[i] + offset;
}

}  // namespace

void Field::compare(std::uint32_t t, float above, TileBits& bits) const {
  const Tile& tile = tiles_[t];
  const bool all_dark = tile.data < 0 ? tile.offset <= above : tile.offset + tile.scale * tile.highest <= above;
  if (all_dark || tile.data < 0) {
    bits.fill(all_dark ? 0 : ~std::uint64_t{0});
  } else {
    compare_above(pixels(tile), (above - tile.offset) / tile.scale, bits);
  }
}

void Field::add_to(std::uint32_t t, float times, float* out) const {
  const Tile& tile = tiles_[t];
  if (tile.data < 0) {
    for (std::uint32_t i = 0; i < tile_px; ++i) out[i] += times * tile.offset;
  } else {
    add_scaled(out, pixels(tile), times * tile.scale, times * tile.offset);
  }
}

void Field::drop(Tile& tile) {
  free_.push_back(tile.data);
  tile.data = -1;
  tile.scale = 1;
}

std::int32_t Field::take_pixels() {
  if (free_.empty()) {
    const auto first = static_cast<std::int32_t>(blocks_.size() * block_tiles);
    blocks_.push_back(std::make_unique<float[]>(block_tiles * tile_px));
    for (std::int32_t i = block_tiles - 1; i >= 0; --i) free_.push_back(first + i);
  }
  const std::int32_t data = free_.back();
  free_.pop_back();
  return data;
}

void Field::dim_tile(Tile& tile, float light, float pass) {
  tile.offset = light + pass * tile.offset;
  if (tile.data < 0) return;
  tile.scale *= pass;
  if (tile.scale * (tile.highest - tile.lowest) >= too_faint_) return;
  tile.offset += tile.scale * 0.5f * (tile.lowest + tile.highest);
  drop(tile);
}

void Field::blend_tile(Tile& tile, const float* light, float weight, float pass) {
  float keep = pass * tile.scale;
  if (tile.data < 0) {
    tile.data = take_pixels();
    std::fill_n(pixels(tile), tile_px, 0.0f);
    keep = 0;
  }
  blend(pixels(tile), keep, pass * tile.offset, light, weight, &tile.lowest, &tile.highest);
  tile.scale = 1;
  tile.offset = 0;
}

}  // namespace hairline::exposure
