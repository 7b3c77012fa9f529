#include "band.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "listing.hpp"

namespace hairline::exposure {
namespace {

// Critical exposure of an empty voxel that the base fills: below every other, so it wins where gaps meet, and each
// voxel is counted once. Such runs wait with the layers, and are counted and dropped when a layer is handed out.
constexpr float filled_by_base = 0;

// Key of what never decides.
constexpr float never = std::numeric_limits<float>::infinity();

bool is_solid(std::uint8_t value) {
  return value >= solid_from;
}

// A ten-thousandth of the faintest light that can fuse anything in the range.
float too_faint(const ExposureContext::State& context) {
  return static_cast<float>(1e-4 * fuse_threshold_s(context.model, context.model.layer_height_mm) /
                            context.settings.fuse_to_s);
}

// A tile and its neighbours; what lies beyond the plate has no bits.
Neighbours neighbours(std::span<const Band> bands, std::uint32_t tx, std::uint32_t ty, std::uint32_t tiles,
                      auto band_bits) {
  Neighbours out;
  for (std::uint32_t i = 0; i < 9; ++i) {
    const std::uint32_t x = tx + i % 3, y = ty + i / 3;  // one too many
    const bool beyond = x < 1 || y < 1 || x > tiles || y > bands.size();
    out[i] = beyond ? &no_bits : &band_bits(bands[y - 1]).at(x - 1);
  }
  return out;
}

// Bits of a mask's row within one tile.
std::uint64_t row_bits(const Span& span, std::uint32_t tx) {
  const std::uint32_t left = tx * tile_w;
  const std::uint32_t from = std::max(span.begin, left) - left, to = std::min(span.end - left, tile_w);
  return ~std::uint64_t{0} >> (tile_w - to) & ~std::uint64_t{0} << from;
}

// Calls use(tile, row, column) for all listed pixels of a band, row by row.
template <class Tile, class Use>
void for_each_listed(std::vector<Tile>& tiles, std::uint32_t ty, Use use) {
  for (std::uint32_t y = 0; y < tile_h && !tiles.empty(); ++y) {
    for (Tile& tile : tiles) {
      for_each_bit(tile.bits[y], [&](std::uint32_t x) { use(tile, ty * tile_h + y, tile.tx * tile_w + x); });
    }
  }
}

// A stretch of one row of one tile, and where its values go.
struct Stretch {
  std::uint32_t tx, ty, x, y, count;  // x, y: in the tile
  float* out;
};

// Calls fill(stretch) for all of a rectangle that lies on the plate; the rest gets `outside`.
template <class Fill>
void fill_pixels(Pixels& pixels, const Size& size, float outside, Fill fill) {
  const Rect& rect = pixels.rect;
  const int width = static_cast<int>(size.width_px), height = static_cast<int>(size.height_px);
  const int from = std::max(rect.x, 0), to = std::min(rect.x + rect.width, width);
  if (from > rect.x || to < rect.x + rect.width || rect.y < 0 || rect.y + rect.height > height)
    std::fill(pixels.value.begin(), pixels.value.end(), outside);
  for (int y = std::max(rect.y, 0); y < std::min(rect.y + rect.height, height); ++y) {
    for (int x = from; x < to;) {
      const auto col = static_cast<std::uint32_t>(x), row = static_cast<std::uint32_t>(y);
      const auto count = std::min(tile_w - col % tile_w, static_cast<std::uint32_t>(to - x));
      fill(Stretch{col / tile_w, row / tile_h, col % tile_w, row % tile_h, count, &pixels.at(x, y)});
      x += static_cast<int>(count);
    }
  }
}

}  // namespace

struct Band::Listed {
  std::uint32_t tx = 0;
  TileBits bits;
  SearchWindow found;
};

Band::Band(const ExposureContext::State& context, std::uint32_t ty)
    : context_(context),
      ty_(ty),
      tiles_(context.grid.nx),
      linear_(tiles_, too_faint(context)),
      fixed_(tiles_, too_faint(context) * static_cast<float>(context.settings.normal_s)),
      gaps_(context.layers, context.flat_gap_mm) {}

float Band::settled(std::uint32_t tx, std::uint32_t y, std::uint32_t x) const {
  if (!in_base_) return linear_.at(tx, y, x);
  return static_cast<float>(context_.settings.normal_s) * linear_.at(tx, y, x) + fixed_.at(tx, y, x);
}

void Band::expose(const LayerStep& step, BandScratch& scratch) {
  const Kernel& kernel = context_.kernel;
  BandEdges& edges = scratch.edges;
  find_edges(step.layer, context_.grid, ty_, kernel.radius_x, kernel.radius_y, edges);
  find_solid(step, scratch);
  // The settled light is still that of the layer above: the earliest voxel of the gaps that close here.
  gaps_.add(step.number, solid_, tiles_, scratch.closed);
  waiting_.push_back({step.number, {}, {}, {}, 0});
  close_gaps(scratch.closed);

  in_base_ = !step.normal;
  for (BitBand* bits : {&good_, &bright_, &dark_}) bits->clear(tiles_);
  scratch.blurrer.begin(step.layer);
  scratch.light.resize(strip_tiles * tile_px);
  for (std::uint32_t tx = 0; tx < tiles_; ++tx) {
    if (edges.near[tx] == 0) leave_uniform(step, tx, static_cast<float>(edges.value[tx]) / 255.0f);
  }
  for_each_strip(edges, [&](std::uint32_t first, std::uint32_t count) {
    for (std::uint32_t i = 0; i < count; ++i) (step.normal ? linear_ : fixed_).expect(first + i);
    scratch.blurrer.blur(kernel, strip_rect(first, ty_, count), scratch.light.data());
    for (std::uint32_t i = 0; i < count; ++i)
      expose_tile(step, first + i, {scratch.light.data() + i * tile_w, count * tile_w});
  });
}

// The layer's solid as bits, in tiles near an edge; the others are all solid or all empty.
void Band::find_solid(const LayerStep& step, BandScratch& scratch) {
  const BandEdges& edges = scratch.edges;
  scratch.solid.assign(tiles_, no_bits);
  const std::uint32_t rows = std::min(tile_h, step.solid.size.height_px - ty_ * tile_h);
  for (std::uint32_t y = 0; y < rows; ++y) {
    for (const Span& span : step.solid.row(ty_ * tile_h + y)) {
      for (std::uint32_t tx = span.begin / tile_w; tx * tile_w < span.end; ++tx)
        if (edges.near[tx] != 0) scratch.solid[tx][y] |= row_bits(span, tx);
    }
  }
  solid_.clear(tiles_);
  for (std::uint32_t tx = 0; tx < tiles_; ++tx) {
    if (edges.near[tx] != 0) {
      solid_.set(tx, scratch.solid[tx]);
    } else if (is_solid(edges.value[tx])) {
      solid_.fill(tx);
    }
  }
}

void Band::expose_tile(const LayerStep& step, std::uint32_t tx, const TileLight& light) {
  if (!solid_.empty(tx)) {
    TileBits good;
    compare_above(light, step.good_above, solid_.at(tx), good);
    good_.set(tx, good);
  }
  if (step.normal) {
    linear_.add(tx, light, static_cast<float>(step.plan.factor), step.pass);
  } else {
    linear_.add_uniform(tx, 0, step.pass);
    fixed_.add(tx, light, static_cast<float>(step.plan.exposure_s), step.pass);
  }
  sort_empty(step, tx);
}

void Band::leave_uniform(const LayerStep& step, std::uint32_t tx, float light) {
  if (!solid_.empty(tx) && light > step.good_above) good_.fill(tx);
  if (step.normal) {
    linear_.add_uniform(tx, static_cast<float>(step.plan.factor) * light, step.pass);
  } else {
    linear_.add_uniform(tx, 0, step.pass);
    fixed_.add_uniform(tx, static_cast<float>(step.plan.exposure_s) * light, step.pass);
  }
  sort_empty(step, tx);
}

// Sorts a tile's empty pixels into bright and dark.
void Band::sort_empty(const LayerStep& step, std::uint32_t tx) {
  if (solid_.full(tx)) return;
  if (step.normal && solid_.empty(tx) && linear_.uniform(tx) && context_.grid.whole(tx, ty_)) {  // most of a plate
    (linear_.at(tx, 0, 0) > step.bright_above ? bright_ : dark_).fill(tx);
    return;
  }
  TileBits empty = context_.grid.inside(tx, ty_);
  take_away(empty, solid_.at(tx));
  TileBits bright;
  if (step.normal) {
    linear_.compare(tx, step.bright_above, empty, bright);
  } else {
    float values[tile_px] = {};
    linear_.add_to(tx, static_cast<float>(context_.settings.normal_s), values);
    fixed_.add_to(tx, 1.0f, values);
    compare_above({values}, step.bright_above, empty, bright);
  }
  bright_.set(tx, bright);
  take_away(empty, bright);
  dark_.set(tx, empty);
}

// Gaps that close on one layer, row by row, so that the lists come sorted. The settled light is that of their earliest
// voxels.
void Band::close_gaps(const std::vector<ClosedGap>& gaps) {
  if (gaps.empty()) return;
  const LayerPlan& earliest = context_.plan(gaps.front().from);
  const double threshold = fuse_threshold_s(context_.model, earliest.height_mm);
  for (std::uint32_t y = 0; y < tile_h; ++y) {
    for (std::size_t first = 0, last = 0; first < gaps.size(); first = last) {
      std::uint64_t any = 0;
      for (; last < gaps.size() && gaps[last].tx == gaps[first].tx; ++last) any |= gaps[last].bits[y];
      while (any != 0) {
        std::size_t i = first;
        while ((gaps[i].bits[y] >> std::countr_zero(any) & 1) == 0) ++i;
        const auto begin = static_cast<std::uint32_t>(std::countr_zero(any));
        const auto end = begin + static_cast<std::uint32_t>(std::countr_one(gaps[i].bits[y] >> begin));
        close_gap(gaps[i], threshold, y, {begin, end});
        any &= end == tile_w ? 0 : ~std::uint64_t{0} << end;
      }
    }
  }
}

// Columns of one row of a tile; pixels with the same settled light go together.
void Band::close_gap(const ClosedGap& gap, double threshold_s, std::uint32_t y, Span columns) {
  const bool uniform = linear_.uniform(gap.tx) && (!in_base_ || fixed_.uniform(gap.tx));
  const auto light_at = [&](std::uint32_t x) {
    return std::pair{linear_.at(gap.tx, y, x), in_base_ ? fixed_.at(gap.tx, y, x) : 0.0f};
  };
  for (std::uint32_t x = columns.begin; x < columns.end;) {
    const auto light = light_at(x);
    std::uint32_t end = uniform ? columns.end : x + 1;
    while (end < columns.end && light_at(end) == light) ++end;
    const std::uint32_t left = gap.tx * tile_w;
    fill_flat(gap, threshold_s, {ty_ * tile_h + y, left + x, left + end}, light.first, light.second);
    x = end;
  }
}

void Band::fill_flat(const ClosedGap& gap, double threshold_s, CriticalRun run, float settled_linear,
                     float settled_fixed) {
  const double critical = (threshold_s - settled_fixed) / settled_linear;
  FlatRun flat;
  flat.since = gap.since;
  flat.listed = critical > 0 && critical <= context_.settings.fuse_to_s;
  flat.base_fills = settled_fixed + context_.settings.normal_s * settled_linear >= threshold_s;
  flat.base_alone = settled_fixed >= threshold_s;
  if (!flat.listed && !flat.base_fills) return;
  const double height_mm = context_.plan(gap.since).bottom_mm - context_.plan(gap.from).bottom_mm;
  run.critical_s = static_cast<float>(critical);
  run.depth_slope = static_cast<float>(-height_mm / context_.model.penetration_depth_mm);
  run.height_mm = static_cast<float>(height_mm);
  flat.run = run;
  Waiting& floor = waiting_.back();
  floor.floor_of.push_back(flat);
  floor.highest_since = std::max(floor.highest_since, gap.since);
}

// The flat gaps a layer is part of, from the floors below it.
void Band::gather_flat(std::uint32_t layer, std::vector<CriticalRun>& out) const {
  std::vector<std::size_t> parts;
  for (const Waiting& floor : waiting_) {
    if (floor.layer >= layer || floor.highest_since <= layer) continue;
    parts.push_back(out.size());
    for (const FlatRun& flat : floor.floor_of) {
      if (flat.since <= layer) continue;
      if (!context_.normal(layer) || flat.base_alone) {
        if (flat.base_fills) out.push_back({flat.run.row, flat.run.begin, flat.run.end, filled_by_base});
      } else if (flat.listed) {
        out.push_back(flat.run);
      }
    }
  }
  sort_parts(out, parts);
}

void Band::list(const LayerStep& step, std::span<const Band> bands, BandScratch& scratch) {
  scratch.blurrer.begin(step.layer);
  list_vanishing(step, bands, scratch);
  list_narrow(step, bands, scratch);
}

// Searches around a tile's listed pixels. set_key(around) turns `around.light`, and `around.wider` where slopes are
// asked for, into keys.
void Band::look_around(BandScratch& scratch, Listed& tile, auto set_key) const {
  Rect box = bounds(tile.bits);
  box.x += static_cast<int>(tile.tx * tile_w);
  box.y += static_cast<int>(ty_ * tile_h);
  const Disc& reach = context_.reach;
  const Rect around{box.x - reach.reach_x, box.y - reach.reach_y, box.width + 2 * reach.reach_x,
                    box.height + 2 * reach.reach_y};
  scratch.around.reset(around);
  scratch.blurrer.blur(context_.kernel, around, scratch.around.light.value.data());
  if (context_.settings.slopes) scratch.blurrer.blur(context_.wider_kernel, around, scratch.around.wider.value.data());
  set_key(scratch.around);
  tile.found.reset(box);
  find_least(scratch.around, reach, tile.found);
}

void Band::list_vanishing(const LayerStep& step, std::span<const Band> bands, BandScratch& scratch) {
  base_lost_px_ = 0;
  std::vector<Listed> tiles;
  for (std::uint32_t tx = 0; tx < tiles_; ++tx) {
    if (solid_.empty(tx) || good_.full(tx)) continue;
    TileBits listed = solid_.at(tx);
    if (!take_away(listed, good_.at(tx))) continue;
    const auto good_of = [](const Band& band) -> const BitBand& { return band.good_; };
    if (!take_away(listed, grown(neighbours(bands, tx, ty_, tiles_, good_of), context_.reach))) continue;
    if (!step.normal) {
      base_lost_px_ += count(listed);
      continue;
    }
    Listed& tile = tiles.emplace_back(Listed{tx, listed, {}});
    look_around(scratch, tile, [&](SearchWindow& around) {
      const float* light = around.light.value.data();
      fill_pixels(around.key, context_.grid.size, never, [&](const Stretch& at) {
        const std::uint64_t solid = bands[at.ty].solid_.at(at.tx)[at.y] >> at.x;
        const float* from = light + (at.out - around.key.value.data());
        for (std::uint32_t i = 0; i < at.count; ++i) at.out[i] = solid >> i & 1 ? -from[i] : never;
      });
    });
  }
  for_each_listed(tiles, ty_, [&](Listed& tile, std::uint32_t row, std::uint32_t col) {
    const int x = static_cast<int>(col), y = static_cast<int>(row);
    const float light = tile.found.light.at(x, y);
    CriticalRun voxel{row, col, col + 1, static_cast<float>(step.full_light_s / light)};
    if (context_.settings.slopes)
      voxel.blur_slope = static_cast<float>(-std::log(tile.found.wider.at(x, y) / light) / std::log1p(blur_step));
    append_voxels(waiting_.back().vanish, voxel);
  });
}

// The layer's own light at the darkest pixel stands for the layers that made up its settled light: exact where the gap
// is prismatic; a roof's share, which blur does not move, is left out.
double Band::blur_slope_of_fuse(const LayerStep& step, float settled, float light, float wider) const {
  if (!(light > 0) || !(settled > 0)) return 0;
  const double settling = 1 - attenuation(context_.model, step.plan.height_mm);
  const double share =
      std::min(1.0, step.plan.factor * static_cast<double>(light) / (settling * static_cast<double>(settled)));
  return -share * std::log(static_cast<double>(wider / light)) / std::log1p(blur_step);
}

// Narrow gaps: bright empty pixels with nothing dark and empty within reach, inside the closing of the solid.
void Band::list_narrow(const LayerStep& step, std::span<const Band> bands, BandScratch& scratch) {
  const auto dark_of = [](const Band& band) -> const BitBand& { return band.dark_; };
  const auto solid_of = [](const Band& band) -> const BitBand& { return band.solid_; };
  std::vector<Listed> tiles;
  for (std::uint32_t tx = 0; tx < tiles_; ++tx) {
    if (bright_.empty(tx)) continue;
    TileBits bits = bright_.at(tx);
    if (!take_away(bits, grown(neighbours(bands, tx, ty_, tiles_, dark_of), context_.reach))) continue;
    if (!keep_only(bits, closed(neighbours(bands, tx, ty_, tiles_, solid_of), context_.closing))) continue;
    Listed& tile = tiles.emplace_back(Listed{tx, bits, {}});
    if (!step.normal) continue;
    // Settled light of the empty pixels around; solid ones never count as the darkest.
    look_around(scratch, tile, [&](SearchWindow& around) {
      fill_pixels(around.key, context_.grid.size, never, [&](const Stretch& at) {
        const Band& band = bands[at.ty];
        const std::uint64_t solid = band.solid_.at(at.tx)[at.y] >> at.x;
        for (std::uint32_t i = 0; i < at.count; ++i)
          at.out[i] = solid >> i & 1 ? never : band.linear_.at(at.tx, at.y, at.x + i);
      });
    });
  }
  for_each_listed(tiles, ty_, [&](Listed& tile, std::uint32_t row, std::uint32_t col) {
    CriticalRun voxel{row, col, col + 1, filled_by_base};
    if (step.normal) {
      const int x = static_cast<int>(col), y = static_cast<int>(row);
      const float darkest = tile.found.key.at(x, y);
      voxel.critical_s = static_cast<float>(step.threshold_s / darkest);
      if (context_.settings.slopes) {
        voxel.blur_slope =
            static_cast<float>(blur_slope_of_fuse(step, darkest, tile.found.light.at(x, y), tile.found.wider.at(x, y)));
      }
    }
    append_voxels(waiting_.back().narrow, voxel);
  });
}

void Band::hand_out(BandLists& out) {
  Waiting first = std::move(waiting_.front());
  waiting_.pop_front();
  std::vector<CriticalRun> flat;
  gather_flat(first.layer, flat);
  out.vanish = std::move(first.vanish);
  merge(first.narrow, flat, out.fuse);
  out.base_filled_px = 0;
  std::erase_if(out.fuse, [&](const CriticalRun& run) {
    if (run.critical_s == filled_by_base) out.base_filled_px += run.end - run.begin;
    return run.critical_s == filled_by_base;
  });
}

}  // namespace hairline::exposure
