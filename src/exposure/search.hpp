/// Around each of a tile's listed pixels: the value that decides, and how it follows the blur.
#pragma once
#include <bit>
#include <cstdint>
#include <vector>

#include "blur.hpp"
#include "tiles.hpp"

namespace hairline::exposure {

template <class Use>
void for_each_bit(std::uint64_t bits, Use use) {
  for (; bits != 0; bits &= bits - 1) use(static_cast<std::uint32_t>(std::countr_zero(bits)));
}

/// Smallest box of a tile's bits, in the tile's own pixels. Precondition: some bit is set.
Rect bounds(const TileBits& bits);

/// One value per pixel of a rectangle, row by row.
struct Pixels {
  Rect rect;
  std::vector<float> value;
  void reset(const Rect& to) {
    rect = to;
    value.resize(static_cast<std::size_t>(to.width) * static_cast<std::size_t>(to.height));
  }
  float& at(int x, int y) {
    return value[static_cast<std::size_t>(y - rect.y) * static_cast<std::size_t>(rect.width) +
                 static_cast<std::size_t>(x - rect.x)];
  }
};

/// What is looked for: keys alone, or with what belongs to them.
enum class Search : std::uint8_t { key, all };

/// What is searched, over one rectangle: the least `key` decides; `light` and `wider` are what belongs to it.
struct SearchWindow {
  Pixels key, light, wider;
  void reset(Search what, const Rect& rect) {
    key.reset(rect);
    if (what == Search::key) return;
    light.reset(rect);
    wider.reset(rect);
  }
};

/// For each pixel of `found.key.rect` (set by the caller) the least key of `around` within reach, with what belongs to
/// it; where several are least, which one depends on their places around the pixel alone. `around` reaches beyond that
/// rectangle by `reach`. `wide`: scratch.
void find_least(Search what, const SearchWindow& around, const Disc& reach, SearchWindow& wide, SearchWindow& found);

}  // namespace hairline::exposure
