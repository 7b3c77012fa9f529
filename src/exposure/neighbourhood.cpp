#include "neighbourhood.hpp"

#include <algorithm>

namespace hairline::exposure {
namespace {

HAIRLINE_VECTOR_CLONES
void max_into(float* into, const float* from, int n) {
  for (int i = 0; i < n; ++i) into[i] = into[i] > from[i] ? into[i] : from[i];
}
HAIRLINE_VECTOR_CLONES
void min_into(float* into, const float* from, int n) {
  for (int i = 0; i < n; ++i) into[i] = into[i] < from[i] ? into[i] : from[i];
}

HAIRLINE_VECTOR_CLONES
void compare_row(const float* value, float above, std::uint8_t* yes) {
  for (int i = 0; i < static_cast<int>(tile_w); ++i) yes[i] = value[i] > above ? 1 : 0;
}

// Eight bytes of 0 or 1 into eight bits, first byte lowest.
std::uint64_t packed(const std::uint8_t* yes) {
  std::uint64_t word = 0;
  std::memcpy(&word, yes, sizeof word);
  return (word * 0x0102040810204080u) >> 56;
}

template <class Into>
void search(const ValueWindow& window, const Disc& reach, const TileBits& wanted, float start, Into into, float* out) {
  for (int y = 0; y < static_cast<int>(tile_h); ++y) {
    if (wanted[static_cast<std::size_t>(y)] == 0) continue;
    float* row = out + y * static_cast<int>(tile_w);
    std::fill(row, row + tile_w, start);
    for (int dy = -reach.reach_y; dy <= reach.reach_y; ++dy) {
      const float* from = window.value.data() + (y + window.reach_y + dy) * window.width + window.reach_x;
      for (int dx = -reach.at(dy); dx <= reach.at(dy); ++dx) into(row, from + dx, static_cast<int>(tile_w));
    }
  }
}

}  // namespace

void compare_above(const float* value, float above, TileBits& bits) {
  for (std::uint32_t y = 0; y < tile_h; ++y) {
    std::uint8_t yes[tile_w];
    compare_row(value + y * tile_w, above, yes);
    std::uint64_t row = 0;
    for (std::uint32_t byte = 0; byte < tile_w / 8; ++byte) row |= packed(yes + byte * 8) << (byte * 8);
    bits[y] = row;
  }
}

void neighbourhood_max(const ValueWindow& window, const Disc& reach, const TileBits& wanted, float* out) {
  search(window, reach, wanted, -std::numeric_limits<float>::infinity(), max_into, out);
}
void neighbourhood_min(const ValueWindow& window, const Disc& reach, const TileBits& wanted, float* out) {
  search(window, reach, wanted, std::numeric_limits<float>::infinity(), min_into, out);
}

}  // namespace hairline::exposure
