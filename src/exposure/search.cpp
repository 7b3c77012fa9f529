#include "search.hpp"

#include <algorithm>
#include <limits>

namespace hairline::exposure {
namespace {

HAIRLINE_VECTOR_CLONES
void take_less(float* __restrict key, const float* __restrict key2, std::size_t stride, std::size_t stride2, int rows,
               int n) {
  for (int y = 0; y < rows; ++y, key += stride, key2 += stride2)
    for (int i = 0; i < n; ++i) key[i] = key2[i] < key[i] ? key2[i] : key[i];
}

HAIRLINE_VECTOR_CLONES
void take_less(float* __restrict key, float* __restrict light, float* __restrict wider, const float* __restrict key2,
               const float* __restrict light2, const float* __restrict wider2, std::size_t stride, std::size_t stride2,
               int rows, int n) {
  for (int y = 0; y < rows; ++y) {
    for (int i = 0; i < n; ++i) {
      const bool less = key2[i] < key[i];
      key[i] = less ? key2[i] : key[i];
      light[i] = less ? light2[i] : light[i];
      wider[i] = less ? wider2[i] : wider[i];
    }
    key += stride, light += stride, wider += stride;
    key2 += stride2, light2 += stride2, wider2 += stride2;
  }
}

// `into` takes what is less in `from`, from that row and column on.
void take_less(Search what, SearchWindow& into, const SearchWindow& from, int row, int col) {
  const auto stride = static_cast<std::size_t>(into.key.rect.width),
             stride2 = static_cast<std::size_t>(from.key.rect.width);
  const std::size_t at = static_cast<std::size_t>(row) * stride2 + static_cast<std::size_t>(col);
  const int rows = into.key.rect.height, width = into.key.rect.width;
  float* key = into.key.value.data();
  const float* key2 = from.key.value.data() + at;
  if (what == Search::key) return take_less(key, key2, stride, stride2, rows, width);
  take_less(key, into.light.value.data(), into.wider.value.data(), key2, from.light.value.data() + at,
            from.wider.value.data() + at, stride, stride2, rows, width);
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

// A disc's rows grow wider towards its middle, so one picture of the least in a row, widened step by step, serves all.
void find_least(Search what, const SearchWindow& around, const Disc& reach, SearchWindow& wide, SearchWindow& found) {
  const Rect to = found.key.rect, from = around.key.rect;
  const int left = to.x - from.x, top = to.y - from.y;
  constexpr float none = std::numeric_limits<float>::infinity();
  wide.reset(what, {to.x, from.y, to.width, from.height});
  std::fill(wide.key.value.begin(), wide.key.value.end(), none);
  std::fill(found.key.value.begin(), found.key.value.end(), none);
  int made = -1;
  for (int dy = reach.reach_y; dy >= 0; --dy) {
    while (made < reach.at(dy)) {
      ++made;
      take_less(what, wide, around, 0, left - made);
      if (made > 0) take_less(what, wide, around, 0, left + made);
    }
    if (made < 0) continue;
    take_less(what, found, wide, top - dy, 0);
    if (dy > 0) take_less(what, found, wide, top + dy, 0);
  }
}

}  // namespace hairline::exposure
