#include "band.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "listing.hpp"

namespace hairline::exposure {
namespace {

// Critical exposure of an empty voxel that the base's own light fills, and of all that is filled in base and transition
// layers: below every other, so it wins where gaps meet, and each voxel is counted once. Such runs wait with the
// layers, and are counted and dropped when a layer is handed out.
constexpr float filled_by_base = 0;

// Key of a pixel that takes no part in a search for the least.
constexpr float never = std::numeric_limits<float>::infinity();

bool is_solid(std::uint8_t value) {
  return value >= solid_from;
}

// A ten-thousandth of the faintest light that can fuse anything in the range.
float too_faint(const ExposureContext::State& context) {
  return static_cast<float>(1e-4 *
                            std::min(fuse_threshold_s(context.model, context.model.layer_height_mm),
                                     flat_threshold_s(context.model, context.model.layer_height_mm)) /
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

// The smallest box of a tile's bits on the plate.
Rect box_of(const TileBits& bits, std::uint32_t tx, std::uint32_t ty) {
  Rect box = bounds(bits);
  box.x += static_cast<int>(tx * tile_w);
  box.y += static_cast<int>(ty * tile_h);
  return box;
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

// Mask values of the solid pixels of a rectangle, 0..1 and negated, so that the least is the greatest.
void fill_values(const Layer& layer, Pixels& pixels) {
  const Rect& rect = pixels.rect;
  std::fill(pixels.value.begin(), pixels.value.end(), never);
  const int below = std::min(rect.y + rect.height, static_cast<int>(layer.size.height_px));
  for (int y = std::max(rect.y, 0); y < below; ++y) {
    const auto runs = layer.row(static_cast<std::uint32_t>(y));
    const auto left = [&](const Run& run) { return static_cast<int>(run.end) <= rect.x; };
    for (auto run = std::partition_point(runs.begin(), runs.end(), left);
         run != runs.end() && static_cast<int>(run->begin) < rect.x + rect.width; ++run) {
      if (!is_solid(run->value)) continue;
      const int from = std::max(static_cast<int>(run->begin), rect.x);
      const int to = std::min(static_cast<int>(run->end), rect.x + rect.width);
      std::fill_n(&pixels.at(from, y), to - from, static_cast<float>(run->value) / -255.0f);
    }
  }
}

// The exposure from which settled light reaches the threshold.
float needed_s(double threshold_s, float settled_linear, float settled_fixed) {
  const double missing_s = threshold_s - static_cast<double>(settled_fixed);
  return missing_s <= 0 ? filled_by_base : static_cast<float>(missing_s / static_cast<double>(settled_linear));
}

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
  bool even = false;  // one light for all: `light`; else as found
  float light = 0;
  SearchWindow found;
};

struct Band::Closing {
  std::uint32_t tx = 0;
  std::span<const ClosedGap> gaps;
  TileBits bits;
  bool even = false;  // one critical exposure for all: `critical_s`; else as found, negated
  float critical_s = 0;
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

void Band::meet(const LayerStep& step, std::span<const Band> bands, BandScratch& scratch) {
  find_edges(step.layer, context_.grid, ty_, context_.kernel.radius_x, context_.kernel.radius_y, edges_);
  find_solid(step, scratch);
  gaps_.close(step.number, next_, tiles_, scratch.closed);
  gaps_.add(step.number, next_, tiles_);
  waiting_.push_back({step.number, false, {}, {}, {}, 0});
  close_gaps(bands, scratch);
  listed_ += waiting_.back().size();
}

void Band::meet_plate(std::span<const Band> bands, BandScratch& scratch) {
  next_.clear(tiles_);
  for (std::uint32_t tx = 0; tx < tiles_; ++tx) next_.fill(tx);
  gaps_.close(0, next_, tiles_, scratch.closed);
  waiting_.push_back({0, false, {}, {}, {}, 0});
  close_gaps(bands, scratch);
}

void Band::expose(const LayerStep& step, BandScratch& scratch) {
  in_base_ = !step.normal;
  std::swap(solid_, next_);
  for (BitBand* bits : {&good_, &bright_, &dark_, &near_bulk_}) bits->clear(tiles_);
  surely_bulk_ = false;
  scratch.blurrer.begin(step.layer);
  scratch.light.resize(strip_tiles * tile_px);
  for (std::uint32_t tx = 0; tx < tiles_; ++tx) {
    if (edges_.near[tx] == 0) leave_uniform(step, tx, static_cast<float>(edges_.value[tx]) / 255.0f);
  }
  for_each_strip(edges_, [&](std::uint32_t first, std::uint32_t count) {
    for (std::uint32_t i = 0; i < count; ++i) (step.normal ? linear_ : fixed_).expect(first + i);
    scratch.blurrer.blur(context_.kernel, strip_rect(first, ty_, count), scratch.light.data());
    for (std::uint32_t i = 0; i < count; ++i)
      expose_tile(step, first + i, {scratch.light.data() + i * tile_w, count * tile_w});
  });
}

// The layer's solid as bits, in tiles near an edge; the others are all solid or all empty.
void Band::find_solid(const LayerStep& step, BandScratch& scratch) {
  scratch.solid.assign(tiles_, no_bits);
  const std::uint32_t rows = std::min(tile_h, step.solid.size.height_px - ty_ * tile_h);
  for (std::uint32_t y = 0; y < rows; ++y) {
    for (const Span& span : step.solid.row(ty_ * tile_h + y)) {
      for (std::uint32_t tx = span.begin / tile_w; tx * tile_w < span.end; ++tx)
        if (edges_.near[tx] != 0) scratch.solid[tx][y] |= row_bits(span, tx);
    }
  }
  next_.clear(tiles_);
  for (std::uint32_t tx = 0; tx < tiles_; ++tx) {
    if (edges_.near[tx] != 0) {
      next_.set(tx, scratch.solid[tx]);
    } else if (is_solid(edges_.value[tx])) {
      next_.fill(tx);
    }
  }
}

void Band::expose_tile(const LayerStep& step, std::uint32_t tx, const TileLight& light) {
  if (!solid_.empty(tx)) {
    TileBits bits;
    compare_above(light, step.good_above, solid_.at(tx), bits);
    good_.set(tx, bits);
    if (!surely_bulk_ && step.greatest >= bulk_value) {
      compare_above(light, step.bulk_above, solid_.at(tx), bits);
      surely_bulk_ = !none(bits);
      if (!surely_bulk_) compare_above(light, 0.999f * bulk_share * bulk_value, solid_.at(tx), bits);
      near_bulk_.set(tx, bits);
    }
  }
  if (step.normal) {
    linear_.add(tx, light, static_cast<float>(step.printed.factor), step.pass);
  } else {
    linear_.add_uniform(tx, 0, step.pass);
    fixed_.add(tx, light, static_cast<float>(step.printed.exposure_s), step.pass);
  }
  sort_empty(step, tx);
}

void Band::leave_uniform(const LayerStep& step, std::uint32_t tx, float light) {
  if (!solid_.empty(tx)) {
    // All within reach has this one value.
    const bool bulk = light >= bulk_value;
    if (light > step.good_above || (bulk && light >= bulk_share * step.greatest)) good_.fill(tx);
    surely_bulk_ = surely_bulk_ || bulk;
  }
  if (step.normal) {
    linear_.add_uniform(tx, static_cast<float>(step.printed.factor) * light, step.pass);
  } else {
    linear_.add_uniform(tx, 0, step.pass);
    fixed_.add_uniform(tx, static_cast<float>(step.printed.exposure_s) * light, step.pass);
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

// Gaps that close on one layer, row by row, so that the lists come sorted. Light, solid and dark pixels are still those
// of the layer above, the gaps' earliest voxels.
void Band::close_gaps(std::span<const Band> bands, BandScratch& scratch) {
  const std::vector<ClosedGap>& gaps = scratch.closed;
  if (gaps.empty()) return;
  const double threshold_s = flat_threshold_s(context_.model, context_.printed(gaps.front().from).height_mm);
  std::vector<Closing> tiles;
  for (std::size_t first = 0, last = 0; first < gaps.size(); first = last) {
    Closing tile{gaps[first].tx, {}, {}, false, 0, {}};
    for (; last < gaps.size() && gaps[last].tx == tile.tx; ++last) add_to(tile.bits, gaps[last].bits);
    tile.gaps = std::span(gaps).subspan(first, last - first);
    if (look_into(tile, threshold_s, bands, scratch)) tiles.push_back(std::move(tile));
  }
  for_each_listed(tiles, ty_, [&](Closing& tile, std::uint32_t row, std::uint32_t col) {
    const std::uint32_t y = row % tile_h, x = col % tile_w;
    auto gap = tile.gaps.begin();
    while ((gap->bits[y] >> x & 1) == 0) ++gap;
    const float critical_s =
        tile.even ? tile.critical_s : -tile.found.key.at(static_cast<int>(col), static_cast<int>(row));
    if (critical_s > static_cast<float>(context_.settings.fuse_to_s)) return;
    FlatRun voxel{col, col + 1, critical_s};
    voxel.row = y % tile_h, voxel.since = gap->since & 0x7ffffff;
    close_voxel(voxel);
  });
}

// Leaves out what surely stays open, and finds the critical exposures of the rest: the greatest of the empty pixels
// within reach. False when nothing is left.
bool Band::look_into(Closing& tile, double threshold_s, std::span<const Band> bands, BandScratch& scratch) const {
  const auto dark_of = [](const Band& band) -> const BitBand& { return band.dark_; };
  if (!in_base_ && !take_away(tile.bits, grown(neighbours(bands, tile.tx, ty_, tiles_, dark_of), context_.reach)))
    return false;
  tile.even = evenly_lit(bands, tile.tx);
  if (tile.even) {
    tile.critical_s = needed_s(threshold_s, linear_.at(tile.tx, 0, 0), in_base_ ? fixed_.at(tile.tx, 0, 0) : 0.0f);
    return tile.critical_s <= static_cast<float>(context_.settings.fuse_to_s);
  }
  const Rect box = box_of(tile.bits, tile.tx, ty_);
  scratch.around.reset(Search::key, reach_around(box));
  fill_pixels(scratch.around.key, context_.grid.size, never, [&](const Stretch& at) {
    const Band& band = bands[at.ty];
    const std::uint64_t solid = band.solid_.at(at.tx)[at.y] >> at.x;
    for (std::uint32_t i = 0; i < at.count; ++i) {
      const float fixed = in_base_ ? band.fixed_.at(at.tx, at.y, at.x + i) : 0.0f;
      at.out[i] = solid >> i & 1 ? never : -needed_s(threshold_s, band.linear_.at(at.tx, at.y, at.x + i), fixed);
    }
  });
  tile.found.reset(Search::key, box);
  find_least(Search::key, scratch.around, context_.reach, scratch.wide, tile.found);
  return true;
}

// Is the settled light of a tile and all its neighbours one value?
bool Band::evenly_lit(std::span<const Band> bands, std::uint32_t tx) const {
  const std::size_t from_y = ty_ > 0 ? ty_ - 1 : 0, to_y = std::min<std::size_t>(ty_ + 2, bands.size());
  const std::uint32_t from_x = tx > 0 ? tx - 1 : 0, to_x = std::min(tx + 2, tiles_);
  const auto even = [&](const FieldBand& field, const FieldBand& here, std::uint32_t x) {
    return field.uniform(x) && here.uniform(tx) && field.at(x, 0, 0) == here.at(tx, 0, 0);
  };
  for (std::size_t y = from_y; y < to_y; ++y) {
    for (std::uint32_t x = from_x; x < to_x; ++x) {
      if (!even(bands[y].linear_, linear_, x) || (in_base_ && !even(bands[y].fixed_, fixed_, x))) return false;
    }
  }
  return true;
}

void Band::close_voxel(const FlatRun& voxel) {
  Waiting& floor = waiting_.back();
  if (!floor.floor_of.empty()) {
    FlatRun& last = floor.floor_of.back();
    if (last.since == voxel.since && last.row == voxel.row && last.end == voxel.begin &&
        last.critical_s == voxel.critical_s) {
      last.end = voxel.end;
      return;
    }
  }
  floor.floor_of.push_back(voxel);
  floor.highest_since = std::max<std::uint32_t>(floor.highest_since, voxel.since);
}

// The gap lies over layer `floor`; 0: the plate.
CriticalRun Band::flat_run(const FlatRun& flat, std::uint32_t floor) const {
  const double height_mm = context_.printed(flat.since).bottom_mm - context_.printed(floor + 1).bottom_mm;
  return {ty_ * tile_h + flat.row,
          flat.begin,
          flat.end,
          flat.critical_s,
          0,
          static_cast<float>(-height_mm / context_.model.penetration_depth_mm),
          static_cast<float>(height_mm)};
}

// The flat gaps a layer is part of, from the floors below it.
void Band::gather_flat(std::uint32_t layer, std::vector<CriticalRun>& out) const {
  const bool normal = context_.normal(layer);
  std::vector<std::size_t> parts;
  for (const Waiting& floor : waiting_) {
    if (floor.layer >= layer || floor.highest_since <= layer || floor.layer == 0) continue;
    parts.push_back(out.size());
    for (const FlatRun& flat : floor.floor_of) {
      if (flat.since <= layer) continue;
      if (normal) {
        out.push_back(flat_run(flat, floor.layer));
      } else if (flat.critical_s <= static_cast<float>(context_.settings.normal_s)) {
        out.push_back({ty_ * tile_h + flat.row, flat.begin, flat.end, filled_by_base});
      }
    }
  }
  sort_parts(out, parts);
}

// What of a layer stands over flat gaps that close at the job's times.
void Band::gather_propped(std::uint32_t layer, std::vector<RowSpan>& out) const {
  std::vector<CriticalRun> runs;
  std::vector<std::size_t> parts;
  for (const Waiting& floor : waiting_) {
    if (floor.layer >= layer || floor.highest_since < layer) continue;
    parts.push_back(runs.size());
    for (const FlatRun& flat : floor.floor_of) {
      if (flat.since == layer && flat.critical_s <= static_cast<float>(context_.settings.normal_s))
        runs.push_back(flat_run(flat, floor.layer));
    }
  }
  sort_parts(runs, parts);
  out.clear();
  for (const CriticalRun& run : runs) {
    if (!out.empty() && out.back().row == run.row && out.back().end == run.begin) {
      out.back().end = run.end;
    } else {
      out.push_back({run.row, run.begin, run.end});
    }
  }
}

void Band::list(const LayerStep& step, std::span<const Band> bands, BandScratch& scratch) {
  scratch.blurrer.begin(step.layer);
  const Waiting& waiting = waiting_.back();
  const std::uint64_t before = waiting.size();
  list_vanishing(step, bands, scratch);
  list_narrow(step, bands, scratch);
  listed_ += waiting.size() - before;
}

Rect Band::reach_around(const Rect& box) const {
  const Disc& reach = context_.reach;
  return {box.x - reach.reach_x, box.y - reach.reach_y, box.width + 2 * reach.reach_x, box.height + 2 * reach.reach_y};
}

// Searches around a tile's listed pixels. set_key(around) turns `around.light`, and `around.wider` where slopes are
// asked for, into keys.
void Band::look_around(BandScratch& scratch, Listed& tile, auto set_key) const {
  const Search what = context_.settings.slopes ? Search::all : Search::key;
  const Rect box = box_of(tile.bits, tile.tx, ty_), around = reach_around(box);
  scratch.around.reset(Search::all, around);
  scratch.blurrer.blur(context_.kernel, around, scratch.around.light.value.data());
  if (context_.settings.slopes) scratch.blurrer.blur(context_.wider_kernel, around, scratch.around.wider.value.data());
  set_key(scratch.around);
  tile.found.reset(what, box);
  find_least(what, scratch.around, context_.reach, scratch.wide, tile.found);
}

void Band::list_vanishing(const LayerStep& step, std::span<const Band> bands, BandScratch& scratch) {
  const auto good_of = [](const Band& band) -> const BitBand& { return band.good_; };
  const auto near_bulk_of = [](const Band& band) -> const BitBand& { return band.near_bulk_; };
  Waiting& waiting = waiting_.back();
  waiting.has_bulk = surely_bulk_;
  std::vector<Listed> tiles;
  for (std::uint32_t tx = 0; tx < tiles_; ++tx) {
    if (solid_.empty(tx) || (good_.full(tx) && !step.seek_bulk)) continue;
    TileBits listed = solid_.at(tx), seek = no_bits;
    if (take_away(listed, good_.at(tx)))
      take_away(listed, grown(neighbours(bands, tx, ty_, tiles_, good_of), context_.reach));
    if (step.seek_bulk) {
      seek = grown(neighbours(bands, tx, ty_, tiles_, near_bulk_of), context_.reach);
      keep_only(seek, solid_.at(tx));
    }
    Listed tile{tx, listed, edges_.near[tx] == 0, static_cast<float>(edges_.value[tx]) / 255.0f, {}};
    add_to(tile.bits, seek);
    if (none(tile.bits)) continue;
    if (!tile.even) {
      look_around(scratch, tile, [&](SearchWindow& around) {
        const float* light = around.light.value.data();
        fill_pixels(around.key, context_.grid.size, never, [&](const Stretch& at) {
          const std::uint64_t solid = bands[at.ty].solid_.at(at.tx)[at.y] >> at.x;
          const float* from = light + (at.out - around.key.value.data());
          for (std::uint32_t i = 0; i < at.count; ++i) at.out[i] = solid >> i & 1 ? -from[i] : never;
        });
      });
    }
    drop_bulk(step, scratch, tile);
    if (keep_only(tile.bits, listed)) tiles.push_back(std::move(tile));
  }
  for_each_listed(tiles, ty_, [&](Listed& tile, std::uint32_t row, std::uint32_t col) {
    const int x = static_cast<int>(col), y = static_cast<int>(row);
    const float light = tile.even ? tile.light : -tile.found.key.at(x, y);
    CriticalRun voxel{row, col, col + 1, static_cast<float>(step.full_light_s / static_cast<double>(light))};
    if (context_.settings.slopes && !tile.even)
      voxel.blur_slope = static_cast<float>(-std::log(tile.found.wider.at(x, y) / light) / std::log1p(blur_step));
    append_voxels(waiting.vanish, voxel);
  });
}

// Leaves only thin pixels in a tile that was looked at.
void Band::drop_bulk(const LayerStep& step, BandScratch& scratch, Listed& tile) {
  bool& has_bulk = waiting_.back().has_bulk;
  if (tile.even) {
    if (tile.light < bulk_value) return;
    tile.bits = no_bits;
    has_bulk = true;
    return;
  }
  if (step.greatest < bulk_value) return;
  const std::uint32_t left = tile.tx * tile_w, top = ty_ * tile_h;
  const auto light_at = [&](std::uint32_t x, std::uint32_t y) {
    return -tile.found.key.at(static_cast<int>(left + x), static_cast<int>(top + y));
  };
  float brightest = 0;
  for (std::uint32_t y = 0; y < tile_h; ++y)
    for_each_bit(tile.bits[y], [&](std::uint32_t x) { brightest = std::max(brightest, light_at(x, y)); });
  if (brightest < bulk_share * bulk_value) return;
  scratch.around.key.reset(reach_around(tile.found.key.rect));
  fill_values(step.layer, scratch.around.key);
  scratch.values.reset(Search::key, tile.found.key.rect);
  find_least(Search::key, scratch.around, context_.reach, scratch.wide, scratch.values);
  TileBits bulk = no_bits;
  for (std::uint32_t y = 0; y < tile_h; ++y) {
    for_each_bit(tile.bits[y], [&](std::uint32_t x) {
      const float light = light_at(x, y);
      const float value = -scratch.values.key.at(static_cast<int>(left + x), static_cast<int>(top + y));
      if (value >= bulk_value && light >= bulk_share * value) bulk[y] |= std::uint64_t{1} << x;
    });
  }
  has_bulk = has_bulk || !none(bulk);
  take_away(tile.bits, bulk);
}

// The layer's own light at the darkest pixel stands for the layers that made up its settled light: exact where the gap
// is prismatic; a roof's share, which blur does not move, is left out.
double Band::blur_slope_of_fuse(const LayerStep& step, float settled, float light, float wider) const {
  if (!(light > 0) || !(settled > 0)) return 0;
  const double settling = 1 - attenuation(context_.model, step.printed.height_mm);
  const double share =
      std::min(1.0, step.printed.factor * static_cast<double>(light) / (settling * static_cast<double>(settled)));
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
    Listed& tile = tiles.emplace_back(Listed{tx, bits, false, 0, {}});
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
      if (darkest <= step.narrow_above) return;
      voxel.critical_s = static_cast<float>(step.threshold_s / darkest);
      if (context_.settings.slopes) {
        voxel.blur_slope =
            static_cast<float>(blur_slope_of_fuse(step, darkest, tile.found.light.at(x, y), tile.found.wider.at(x, y)));
      }
    }
    append_voxels(waiting_.back().narrow, voxel);
  });
}

void Band::drop_light() {
  for (FieldBand* field : {&linear_, &fixed_}) *field = FieldBand(0, 0);
  for (BitBand* bits : {&next_, &solid_, &good_, &bright_, &dark_, &near_bulk_}) *bits = {};
  gaps_.drop();
}

void Band::hand_out(BandLists& out) {
  Waiting first = std::move(waiting_.front());
  waiting_.pop_front();
  listed_ -= first.size();
  std::vector<CriticalRun> flat;
  gather_flat(first.layer, flat);
  gather_propped(first.layer, out.propped);
  out.has_bulk = first.has_bulk;
  out.vanish = std::move(first.vanish);
  merge(first.narrow, flat, out.fuse);
  out.base_filled_px = 0;
  std::erase_if(out.fuse, [&](const CriticalRun& run) {
    if (run.critical_s == filled_by_base) out.base_filled_px += run.end - run.begin;
    return run.critical_s == filled_by_base;
  });
}

}  // namespace hairline::exposure
