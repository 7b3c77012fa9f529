#include "edges.hpp"

#include <algorithm>

namespace hairline::exposure {
namespace {

// Flags tiles with a pixel within reach of column edges, which come from left to right.
class SideFlags {
 public:
  SideFlags(std::uint32_t reach, const Grid& grid, std::vector<std::uint8_t>& near)
      : reach_(reach), width_(grid.size.width_px), near_(near) {}
  void flag(std::uint32_t x) {
    const std::uint32_t first = (x > reach_ ? x - reach_ : 0) / tile_w;
    const std::uint32_t last = (std::min(x + reach_, width_) - 1) / tile_w;
    if (first >= first_ && last <= last_) return;
    for (std::uint32_t tx = first; tx <= last; ++tx) near_[tx] = 1;
    first_ = first;
    last_ = last;
  }

 private:
  std::uint32_t reach_, width_;
  std::vector<std::uint8_t>& near_;
  std::uint32_t first_ = 1, last_ = 0;  // flagged last; none
};

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
        SideFlags sides(static_cast<std::uint32_t>(reach_x), grid, out.near);
        for (const Run& run : layer.row(static_cast<std::uint32_t>(r))) {
          sides.flag(run.begin);
          sides.flag(run.end);
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
