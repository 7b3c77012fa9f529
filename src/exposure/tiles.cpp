#include "tiles.hpp"

#include <algorithm>
#include <cmath>

namespace hairline::exposure {
namespace {

// Middle word of a row of three, with every bit spread to `by` columns each way (by < 64).
std::uint64_t widened(std::uint64_t left, std::uint64_t middle, std::uint64_t right, int by) {
  std::uint64_t wide = middle;
  for (int d = 1; d <= by; ++d) wide |= middle << d | left >> (64 - d) | middle >> d | right << (64 - d);
  return wide;
}

// Three words of the row `y` rows below the middle tile's first (negative: above).
std::array<std::uint64_t, 3> row_of(const Neighbours& bits, int y) {
  const int band = y < 0 ? 0 : y < static_cast<int>(tile_h) ? 1 : 2;
  const auto at = static_cast<std::size_t>(y - (band - 1) * static_cast<int>(tile_h));
  std::array<std::uint64_t, 3> row{};
  for (std::size_t side = 0; side < 3; ++side) {
    const TileBits* tile = bits.tile[static_cast<std::size_t>(band) * 3 + side];
    if (tile != nullptr) row[side] = (*tile)[at];
  }
  return row;
}

struct Change {
  std::uint32_t begin, end;  // pixels whose value differs from the row above
};

// Stretches where two rows differ in value.
template <class Emit>
void differences(std::span<const Run> a, std::span<const Run> b, Emit emit) {
  std::size_t i = 0, j = 0;
  std::uint32_t at = 0;
  while (i < a.size() || j < b.size()) {
    const std::uint32_t next_a = i < a.size() ? std::max(a[i].begin, at) : UINT32_MAX;
    const std::uint32_t next_b = j < b.size() ? std::max(b[j].begin, at) : UINT32_MAX;
    const std::uint32_t begin = std::min(next_a, next_b);
    const bool in_a = next_a == begin, in_b = next_b == begin;
    const std::uint32_t end = std::min(in_a ? a[i].end : next_a, in_b ? b[j].end : next_b);
    if ((in_a ? a[i].value : 0) != (in_b ? b[j].value : 0)) emit(Change{begin, end});
    at = end;
    if (i < a.size() && a[i].end <= at) ++i;
    if (j < b.size() && b[j].end <= at) ++j;
  }
}

// Flags of tile columns, one bit each.
class ColumnFlags {
 public:
  ColumnFlags(const Grid& grid, int reach)
      : width_(grid.size.width_px), reach_(reach), words_((grid.nx + 63) / 64, 0) {}
  void clear() { std::fill(words_.begin(), words_.end(), 0); }
  // Flags the tiles that hold a pixel within reach of columns [begin, end).
  void flag(std::int64_t begin, std::int64_t end) {
    const auto first = static_cast<std::uint32_t>(std::max<std::int64_t>(begin - reach_, 0)) / tile_w;
    const auto last = static_cast<std::uint32_t>(std::min<std::int64_t>(end + reach_, width_) - 1) / tile_w;
    for (std::uint32_t tx = first; tx <= last; ++tx) words_[tx / 64] |= std::uint64_t{1} << (tx % 64);
  }
  void add_to(std::uint64_t* into) const {
    for (std::size_t w = 0; w < words_.size(); ++w) into[w] |= words_[w];
  }
  std::size_t words() const { return words_.size(); }

 private:
  std::int64_t width_, reach_;
  std::vector<std::uint64_t> words_;
};

}  // namespace

Disc make_disc(double radius_mm, Pitch pitch) {
  const double radius = radius_mm * (1 + 1e-9);
  Disc disc;
  disc.reach_y = static_cast<int>(std::floor(radius / pitch.y_mm));
  for (int dy = -disc.reach_y; dy <= disc.reach_y; ++dy) {
    const double rest = radius * radius - dy * pitch.y_mm * dy * pitch.y_mm;
    const int half = rest < 0 ? -1 : static_cast<int>(std::floor(std::sqrt(rest) / pitch.x_mm));
    disc.half_width.push_back(half);
    disc.reach_x = std::max(disc.reach_x, half);
  }
  return disc;
}

TileBits grown(const Neighbours& bits, const Disc& disc) {
  TileBits out{};
  constexpr auto height = static_cast<int>(tile_h);
  for (int y = -disc.reach_y; y < height + disc.reach_y; ++y) {
    const auto [left, middle, right] = row_of(bits, y);
    if ((left | middle | right) == 0) continue;
    int made = -1;
    std::uint64_t wide = 0;
    for (int dy = 0; dy <= disc.reach_y; ++dy) {
      const int width = disc.at(dy);
      if (width < 0) break;
      if (width != made) wide = widened(left, middle, right, width);
      made = width;
      if (y - dy >= 0 && y - dy < height) out[static_cast<std::size_t>(y - dy)] |= wide;
      if (y + dy >= 0 && y + dy < height) out[static_cast<std::size_t>(y + dy)] |= wide;
    }
  }
  return out;
}

TileBits closed(const Neighbours& bits, const Disc& disc, const TileBits& wanted) {
  constexpr auto height = static_cast<int>(tile_h);
  const int margin = disc.reach_y;
  std::vector<std::array<std::uint64_t, 3>> big(static_cast<std::size_t>(height + 2 * margin));
  for (int y = -2 * margin; y < height + 2 * margin; ++y) {
    const auto row = row_of(bits, y);
    if ((row[0] | row[1] | row[2]) == 0) continue;
    for (int dy = -margin; dy <= margin; ++dy) {
      if (y + dy < -margin || y + dy >= height + margin || disc.at(dy) < 0) continue;
      auto& into = big[static_cast<std::size_t>(y + dy + margin)];
      // The outer words lack what lies beyond them; within reach of the middle tile nothing is missing.
      into[0] |= widened(0, row[0], row[1], disc.at(dy));
      into[1] |= widened(row[0], row[1], row[2], disc.at(dy));
      into[2] |= widened(row[1], row[2], 0, disc.at(dy));
    }
  }
  TileBits out{};
  for (int y = 0; y < height; ++y) {
    if (wanted[static_cast<std::size_t>(y)] == 0) continue;
    std::uint64_t uncovered = 0;
    for (int dy = -margin; dy <= margin; ++dy) {
      if (disc.at(dy) < 0) continue;
      const auto& row = big[static_cast<std::size_t>(y + dy + margin)];
      uncovered |= widened(~row[0], ~row[1], ~row[2], disc.at(dy));
    }
    out[static_cast<std::size_t>(y)] = ~uncovered;
  }
  return out;
}

void mark_near_edges(const Layer& layer, const Grid& grid, int reach_x, int reach_y, std::vector<std::uint8_t>& near) {
  near.assign(grid.count(), 0);
  if (layer.runs.empty()) return;
  ColumnFlags sides(grid, reach_x), steps(grid, reach_x);
  const std::size_t words = sides.words();
  std::vector<std::uint64_t> flagged(words * grid.ny, 0);
  const auto height = static_cast<int>(grid.size.height_px);
  const auto spread = [&](const ColumnFlags& flags, int from_row, int to_row) {  // rows [from, to)
    const int first = std::max(from_row, 0) / static_cast<int>(tile_h);
    const int last = (std::min(to_row, height) - 1) / static_cast<int>(tile_h);
    for (int ty = first; ty <= last; ++ty) flags.add_to(flagged.data() + static_cast<std::size_t>(ty) * words);
  };
  const std::span<const Run> nothing;
  for (int r = 0; r <= height; ++r) {
    const auto at = static_cast<std::uint32_t>(r);
    const bool same = r > 0 && r < height && layer.rows[at] == layer.rows[at - 1];
    const auto row = r < height ? layer.row(at) : nothing;
    if (!same) {
      const auto above = r > 0 ? layer.row(at - 1) : nothing;
      steps.clear();
      bool any = false;
      differences(row, above, [&](Change change) {
        steps.flag(change.begin, change.end);
        any = true;
      });
      if (any) spread(steps, r - reach_y, r + reach_y);
      sides.clear();
      for (const Run& run : row) {
        sides.flag(run.begin, run.begin);
        sides.flag(run.end, run.end);
      }
    }
    if (!row.empty()) spread(sides, r - reach_y, r + reach_y + 1);
  }
  for (std::uint32_t ty = 0; ty < grid.ny; ++ty) {
    for (std::uint32_t tx = 0; tx < grid.nx; ++tx) {
      near[ty * grid.nx + tx] = flagged[ty * words + tx / 64] >> (tx % 64) & 1;
    }
  }
}

}  // namespace hairline::exposure
