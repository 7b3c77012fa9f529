#include "search.hpp"

#include <algorithm>
#include <limits>

namespace hairline::exposure {
namespace {

HAIRLINE_VECTOR_CLONES
void take_less(float* __restrict key, float* __restrict light, float* __restrict wider, const float* __restrict key2,
               const float* __restrict light2, const float* __restrict wider2, int n) {
  for (int i = 0; i < n; ++i) {
    const bool less = key2[i] < key[i];
    key[i] = less ? key2[i] : key[i];
    light[i] = less ? light2[i] : light[i];
    wider[i] = less ? wider2[i] : wider[i];
  }
}

}  // namespace

Rect bounds(const TileBits& bits) {
  std::uint64_t columns = 0;
  for (const std::uint64_t row : bits) columns |= row;
  const auto any = [](std::uint64_t row) { return row != 0; };
  const auto top = std::find_if(bits.begin(), bits.end(), any) - bits.begin();
  const auto below = bits.rend() - std::find_if(bits.rbegin(), bits.rend(), any);
  const int left = std::countr_zero(columns), right = static_cast<int>(tile_w) - std::countl_zero(columns);
  return {left, static_cast<int>(top), right - left, static_cast<int>(below - top)};
}

void find_least(const SearchWindow& around, const Disc& reach, SearchWindow& found) {
  std::fill(found.key.value.begin(), found.key.value.end(), std::numeric_limits<float>::infinity());
  const Rect to = found.key.rect, from = around.key.rect;
  for (int y = 0; y < to.height; ++y) {
    const auto into = static_cast<std::size_t>(y) * static_cast<std::size_t>(to.width);
    for (int dy = -reach.reach_y; dy <= reach.reach_y; ++dy) {
      for (int dx = -reach.at(dy); dx <= reach.at(dy); ++dx) {
        const auto at = static_cast<std::size_t>((to.y + y + dy - from.y) * from.width + to.x + dx - from.x);
        take_less(found.key.value.data() + into, found.light.value.data() + into, found.wider.value.data() + into,
                  around.key.value.data() + at, around.light.value.data() + at, around.wider.value.data() + at,
                  to.width);
      }
    }
  }
}

}  // namespace hairline::exposure
