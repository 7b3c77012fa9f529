#include "field.hpp"

#include <algorithm>
#include <cmath>

namespace hairline::exposure {
namespace {

constexpr std::uint32_t lanes = 16;

HAIRLINE_VECTOR_CLONES
void blend(float* __restrict data, float keep, float offset, const float* __restrict light, std::size_t stride,
           float weight, float* lowest, float* highest) {
  float low[lanes], high[lanes];
  std::fill_n(low, lanes, INFINITY);
  std::fill_n(high, lanes, -INFINITY);
  for (std::uint32_t y = 0; y < tile_h; ++y) {
    for (std::uint32_t x = 0; x < tile_w; x += lanes) {
      for (std::uint32_t i = 0; i < lanes; ++i) {
        const float value = weight * light[x + i] + (keep * data[x + i] + offset);
        data[x + i] = value;
        low[i] = low[i] < value ? low[i] : value;
        high[i] = high[i] > value ? high[i] : value;
      }
    }
    data += tile_w;
    light += stride;
  }
  *lowest = *std::min_element(low, low + lanes);
  *highest = *std::max_element(high, high + lanes);
}

HAIRLINE_VECTOR_CLONES
void add_scaled(float* __restrict into, const float* __restrict data, float scale, float offset) {
  for (std::uint32_t i = 0; i < tile_px; ++i) into[i] += scale * data[i] + offset;
}

constexpr auto lane_bits = [] {
  std::array<std::uint32_t, 32> bits{};
  for (std::uint32_t i = 0; i < 32; ++i) bits[i] = std::uint32_t{1} << i;
  return bits;
}();

HAIRLINE_VECTOR_CLONES
void compare_rows(const float* value, std::size_t stride, float above, const std::uint64_t* within,
                  std::uint64_t* bits) {
  for (std::uint32_t y = 0; y < tile_h; ++y, value += stride) {
    bits[y] = 0;
    if (within[y] == 0) continue;
    std::uint32_t low = 0, high = 0;
    for (std::uint32_t i = 0; i < 32; ++i) low |= value[i] > above ? lane_bits[i] : 0;
    for (std::uint32_t i = 0; i < 32; ++i) high |= value[32 + i] > above ? lane_bits[i] : 0;
    bits[y] = (std::uint64_t{high} << 32 | low) & within[y];
  }
}

}  // namespace

void compare_above(const TileLight& light, float above, const TileBits& within, TileBits& bits) {
  compare_rows(light.value, light.stride, above, within.data(), bits.data());
}

void FieldBand::expect(std::uint32_t tx) const {
  if (tiles_[tx].data < 0) return;
  constexpr std::size_t line = 64 / sizeof(float);  // values in a cache line
  const float* data = pixels(tiles_[tx]);
  for (std::size_t i = 0; i < tile_px; i += line) __builtin_prefetch(data + i, 1);
}

void FieldBand::compare(std::uint32_t tx, float above, const TileBits& within, TileBits& bits) const {
  const Tile& tile = tiles_[tx];
  if (tile.offset + (tile.data < 0 ? 0 : tile.scale * tile.highest) <= above) {
    bits = no_bits;
  } else if (tile.data < 0 || tile.offset + tile.scale * tile.lowest > above) {
    bits = within;
  } else {
    compare_above({pixels(tile)}, (above - tile.offset) / tile.scale, within, bits);
  }
}

void FieldBand::add_to(std::uint32_t tx, float times, float* out) const {
  const Tile& tile = tiles_[tx];
  if (tile.data < 0) {
    for (std::uint32_t i = 0; i < tile_px; ++i) out[i] += times * tile.offset;
  } else {
    add_scaled(out, pixels(tile), times * tile.scale, times * tile.offset);
  }
}

void FieldBand::drop(Tile& tile) {
  free_.push_back(tile.data);
  tile.data = -1;
  tile.scale = 1;
}

std::int32_t FieldBand::take_pixels() {
  if (free_.empty()) {
    const auto first = static_cast<std::int32_t>(blocks_.size() * block_tiles);
    blocks_.push_back(std::make_unique_for_overwrite<float[]>(block_tiles * tile_px));
    for (std::int32_t i = block_tiles - 1; i >= 0; --i) free_.push_back(first + i);
  }
  const std::int32_t data = free_.back();
  free_.pop_back();
  return data;
}

void FieldBand::add_uniform(std::uint32_t tx, float light, float pass) {
  Tile& tile = tiles_[tx];
  tile.offset = light + pass * tile.offset;
  if (tile.data < 0) return;
  tile.scale *= pass;
  if (tile.scale * (tile.highest - tile.lowest) >= too_faint_) return;
  tile.offset += tile.scale * 0.5f * (tile.lowest + tile.highest);
  drop(tile);
}

void FieldBand::add(std::uint32_t tx, const TileLight& light, float weight, float pass) {
  Tile& tile = tiles_[tx];
  float keep = pass * tile.scale;
  if (tile.data < 0) {
    tile.data = take_pixels();
    std::fill_n(pixels(tile), tile_px, 0.0f);
    keep = 0;
  }
  blend(pixels(tile), keep, pass * tile.offset, light.value, light.stride, weight, &tile.lowest, &tile.highest);
  tile.scale = 1;
  tile.offset = 0;
}

}  // namespace hairline::exposure
