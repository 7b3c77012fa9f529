#include "edges.hpp"

#include <algorithm>

namespace hairline::exposure {
namespace {

// Sets near where a tile has a pixel within reach of column edge x.
void flag_side(std::uint32_t x, int reach, const Grid& grid, std::vector<std::uint8_t>& near) {
  const std::int64_t from = std::max<std::int64_t>(std::int64_t{x} - reach, 0);
  const std::int64_t to = std::min<std::int64_t>(std::int64_t{x} + reach, grid.size.width_px);
  for (std::int64_t tx = from / tile_w; tx <= (to - 1) / tile_w; ++tx) near[static_cast<std::size_t>(tx)] = 1;
}

}  // namespace

// A tile without sides in reach has one value in each row, so the first column of each tile tells rows apart.
void find_edges(const Layer& layer, const Grid& grid, std::uint32_t ty, int reach_x, int reach_y, BandEdges& out) {
  for (auto* list : {&out.near, &out.value, &out.above, &out.here}) list->assign(grid.nx, 0);
  const auto height = static_cast<int>(grid.size.height_px), top = static_cast<int>(ty * tile_h);
  const int from = top - reach_y, to = std::min(top + static_cast<int>(tile_h), height) + reach_y;
  bool first = true;
  for (int r = std::max(from, -1); r < std::min(to, height + 1); ++r, first = false) {
    const bool in_image = r >= 0 && r < height;
    const auto at = static_cast<std::size_t>(r);
    if (first || r <= 0 || r == height || layer.rows[at] != layer.rows[at - 1]) {
      std::swap(out.above, out.here);
      std::fill(out.here.begin(), out.here.end(), std::uint8_t{0});
      if (in_image) {
        for (const Run& run : layer.row(static_cast<std::uint32_t>(r))) {
          flag_side(run.begin, reach_x, grid, out.near);
          flag_side(run.end, reach_x, grid, out.near);
          for (std::uint32_t tx = (run.begin + tile_w - 1) / tile_w; tx * tile_w < run.end; ++tx)
            out.here[tx] = run.value;
        }
      }
      if (!first) {
        for (std::uint32_t tx = 0; tx < grid.nx; ++tx) out.near[tx] |= out.here[tx] != out.above[tx];
      }
    }
    if (r == top) out.value = out.here;
  }
}

}  // namespace hairline::exposure
