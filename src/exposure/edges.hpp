/// Where in a band light is not the same all over a tile.
#pragma once
#include <algorithm>
#include <cstdint>
#include <vector>

#include "tiles.hpp"

namespace hairline::exposure {

/// Per tile of a band: is there a change of value within reach of its pixels (the image's outside is 0)? Where not, its
/// one value.
struct BandEdges {
  std::vector<std::uint8_t> near, value;
  std::vector<std::uint8_t> above, here;  // scratch: values of two rows at the tiles' first columns
};

void find_edges(const Layer& layer, const Grid& grid, std::uint32_t ty, int reach_x, int reach_y, BandEdges& out);

/// Tiles blurred at a time: side by side they share their margins, and what they need stays in the processor's cache.
inline constexpr std::uint32_t strip_tiles = 4;

/// Calls use(first tile, number of tiles) for strips of neighbouring tiles near an edge, from left to right.
template <class Use>
void for_each_strip(const BandEdges& edges, Use use) {
  const auto tiles = static_cast<std::uint32_t>(edges.near.size());
  for (std::uint32_t tx = 0; tx < tiles;) {
    std::uint32_t end = tx;
    while (end < tiles && end - tx < strip_tiles && edges.near[end] != 0) ++end;
    if (end > tx) use(tx, end - tx);
    tx = std::max(end, tx + 1);
  }
}

}  // namespace hairline::exposure
