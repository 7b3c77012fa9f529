/// Settled light from the top layer down, and the empty voxels that may fuse (design 6.2, 6.4).
///
/// A_n = t_n B_n + exp(-h_{n+1}/Dp) A_{n+1}, kept per tile as  offset + scale * data.  Where a layer's light is uniform over a
/// tile the step changes only the two numbers, so a tile costs pixel work only while an edge is near it; when what is left of
/// its pattern is too faint to matter, the pattern is dropped.
///
/// Two fields are kept: `linear`, light of the normal layers at a normal exposure of 1 s, and `fixed`, light of base and
/// transition layers at their own times. Base layers lie below the normal ones, so above them `fixed` is zero.
#include <algorithm>
#include <cmath>
#include <deque>

#include "blur.hpp"
#include "context.hpp"
#include "flat_gaps.hpp"
#include "neighbourhood.hpp"

namespace hairline {
namespace {

using namespace exposure;

HAIRLINE_VECTOR_CLONES
void blend(float* data, float keep, float offset, const float* light, float weight, float* lowest, float* highest) {
  float low = INFINITY, high = -INFINITY;
  for (std::uint32_t i = 0; i < tile_px; ++i) {
    const float value = weight * light[i] + (keep * data[i] + offset);
    data[i] = value;
    low = low < value ? low : value;
    high = high > value ? high : value;
  }
  *lowest = low;
  *highest = high;
}

HAIRLINE_VECTOR_CLONES
void add_scaled(float* into, const float* data, float scale, float offset) {
  for (std::uint32_t i = 0; i < tile_px; ++i) into[i] += scale * data[i] + offset;
}

// One field of settled light.
class Field {
 public:
  Field(std::uint32_t tiles, float too_faint) : tiles_(tiles), too_faint_(too_faint) {}

  // One step down: what was there is dimmed by `pass`, and the layer's light comes on top with `weight`. `look(tile)` is called
  // for each tile the light has an edge in, while its values are at hand.
  template <class Look>
  void step(const CastLight::State& light, float weight, float pass, Look look) {
    for (std::uint32_t t = 0; t < tiles_.size(); ++t) {
      Tile& tile = tiles_[t];
      if (weight != 0 && light.dense[t] >= 0) {
        blend_tile(tile, light.tile(t), weight, pass);
        look(t);
        continue;
      }
      tile.offset = weight * light.uniform[t] + pass * tile.offset;
      if (tile.data < 0) continue;
      tile.scale *= pass;
      if (tile.scale * (tile.highest - tile.lowest) < too_faint_) {
        tile.offset += tile.scale * 0.5f * (tile.lowest + tile.highest);
        drop(tile);
      }
    }
  }
  float at(std::uint32_t t, std::uint32_t y, std::uint32_t x) const {
    const Tile& tile = tiles_[t];
    return tile.data < 0 ? tile.offset : tile.offset + tile.scale * pixels(tile)[y * tile_w + x];
  }
  bool uniform(std::uint32_t t) const { return tiles_[t].data < 0; }
  // bits = value > above, for one tile.
  void compare(std::uint32_t t, float above, TileBits& bits) const {
    const Tile& tile = tiles_[t];
    const bool all_dark = tile.data < 0 ? tile.offset <= above : tile.offset + tile.scale * tile.highest <= above;
    if (all_dark || tile.data < 0) {
      bits.fill(all_dark ? 0 : ~std::uint64_t{0});
    } else {
      compare_above(pixels(tile), (above - tile.offset) / tile.scale, bits);
    }
  }
  // Adds times * field to one tile's values.
  void add_to(std::uint32_t t, float times, float* out) const {
    const Tile& tile = tiles_[t];
    if (tile.data < 0) {
      for (std::uint32_t i = 0; i < tile_px; ++i) out[i] += times * tile.offset;
    } else {
      add_scaled(out, pixels(tile), times * tile.scale, times * tile.offset);
    }
  }

 private:
  struct Tile {
    float scale = 1, offset = 0, lowest = 0, highest = 0;
    std::int32_t data = -1;
  };
  static constexpr std::size_t block_tiles = 256;  // 2 MiB at a time
  float* pixels(const Tile& tile) const {
    const auto i = static_cast<std::size_t>(tile.data);
    return blocks_[i / block_tiles].get() + i % block_tiles * tile_px;
  }
  void drop(Tile& tile) {
    free_.push_back(tile.data);
    tile.data = -1;
    tile.scale = 1;
  }
  std::int32_t take_pixels() {
    if (free_.empty()) {
      const auto first = static_cast<std::int32_t>(blocks_.size() * block_tiles);
      blocks_.push_back(std::make_unique<float[]>(block_tiles * tile_px));
      for (std::int32_t i = block_tiles - 1; i >= 0; --i) free_.push_back(first + i);
    }
    const std::int32_t data = free_.back();
    free_.pop_back();
    return data;
  }
  void blend_tile(Tile& tile, const float* light, float weight, float pass) {
    float keep = pass * tile.scale;
    if (tile.data < 0) {
      tile.data = take_pixels();
      std::fill_n(pixels(tile), tile_px, 0.0f);
      keep = 0;
    }
    blend(pixels(tile), keep, pass * tile.offset, light, weight, &tile.lowest, &tile.highest);
    tile.scale = 1;
    tile.offset = 0;
  }

  std::vector<Tile> tiles_;
  float too_faint_;
  std::vector<std::unique_ptr<float[]>> blocks_;
  std::vector<std::int32_t> free_;
};

// Critical exposure of an empty voxel that the base fills: below every other, so it wins where gaps meet, and each voxel is
// counted once. Such runs wait with the layers, and are counted and dropped when a layer is handed out.
constexpr float filled_by_base = 0;

// Joins two sorted lists of runs; where both hold, the smaller critical exposure stays.
std::vector<CriticalRun> merged(std::vector<CriticalRun> a, std::vector<CriticalRun> b) {
  if (a.empty()) return b;
  if (b.empty()) return a;
  std::vector<CriticalRun> out;
  out.reserve(a.size() + b.size());
  const auto before = [](const CriticalRun& x, const CriticalRun& y) {
    return x.row != y.row ? x.row < y.row : x.begin < y.begin;
  };
  std::size_t i = 0, j = 0;
  while (i < a.size() && j < b.size()) {
    CriticalRun& first = before(b[j], a[i]) ? b[j] : a[i];
    CriticalRun& second = &first == &a[i] ? b[j] : a[i];
    std::size_t& first_at = &first == &a[i] ? i : j;
    if (first.row != second.row || first.end <= second.begin) {
      append_voxel(out, first);
      ++first_at;
      continue;
    }
    if (first.begin < second.begin) {  // the stretch that only one covers
      CriticalRun alone = first;
      alone.end = second.begin;
      append_voxel(out, alone);
      first.begin = second.begin;
      continue;
    }
    CriticalRun common = second.critical_s < first.critical_s ? second : first;  // both begin here
    common.begin = first.begin;
    common.end = std::min(first.end, second.end);
    append_voxel(out, common);
    a[i].begin = b[j].begin = common.end;
    if (a[i].begin >= a[i].end) ++i;
    if (b[j].begin >= b[j].end) ++j;
  }
  for (; i < a.size(); ++i) append_voxel(out, a[i]);
  for (; j < b.size(); ++j) append_voxel(out, b[j]);
  return out;
}

// A tile with narrow gaps that may fuse.
struct NarrowTile {
  std::uint32_t tx = 0;
  TileBits bits;
  std::vector<float> darkest;  // per pixel: least settled light within reach; empty in the base
  std::vector<float> slope;    // per pixel: d ln(critical) / d ln(blur); empty unless asked for
};

// How the critical exposure of upright gaps follows the blur. The layer's own light at the darkest pixel stands for the layers
// that made up its settled light: exact where the gap is prismatic; a roof's share, which blur does not move, is left out.
class Slopes {
 public:
  Slopes(const ExposureContext::State& context, const Layer& layer)
      : context_(context), plain_(context.kernel, layer), wider_(context.wider_kernel, layer) {}

  // `window`: settled light around tile t; slope: tile_px values, set where `bits` are.
  void find(std::uint32_t t, const LayerPlan& plan, const ValueWindow& window, const TileBits& bits, std::vector<float>& slope) {
    const Rect rect = window_rect(context_.grid, t, context_.reach);
    plain_light_.resize(window.value.size());
    wider_light_.resize(window.value.size());
    plain_.blur(rect, plain_light_.data());
    wider_.blur(rect, wider_light_.data());
    slope.assign(tile_px, 0.0f);
    const double settling = 1 - attenuation(context_.model, plan.height_mm);
    for (std::uint32_t y = 0; y < tile_h; ++y) {
      for_each_bit(bits[y], [&](std::uint32_t x) {
        const std::size_t i = darkest(window, static_cast<int>(y), static_cast<int>(x));
        if (!(plain_light_[i] > 0) || !(window.value[i] > 0)) return;
        const double share = std::min(1.0, plan.factor * static_cast<double>(plain_light_[i]) /
                                               (settling * static_cast<double>(window.value[i])));
        slope[y * tile_w + x] = static_cast<float>(
            -share * std::log(static_cast<double>(wider_light_[i] / plain_light_[i])) / std::log1p(blur_step));
      });
    }
  }

 private:
  std::size_t darkest(const ValueWindow& window, int y, int x) const {
    std::size_t least = static_cast<std::size_t>((y + window.reach_y) * window.width + x + window.reach_x);
    for (int dy = -window.reach_y; dy <= window.reach_y; ++dy) {
      for (int dx = -context_.reach.at(dy); dx <= context_.reach.at(dy); ++dx) {
        const auto at = static_cast<std::size_t>((y + window.reach_y + dy) * window.width + x + window.reach_x + dx);
        if (window.value[at] < window.value[least]) least = at;
      }
    }
    return least;
  }
  const ExposureContext::State& context_;
  Blurrer plain_, wider_;
  std::vector<float> plain_light_, wider_light_;
};

}  // namespace

struct SettledLight::State {
  ExposureContext shared;
  const ExposureContext::State& context;
  Field linear, fixed;
  FlatGaps gaps;
  std::vector<ClosedGap> closed_gaps;
  BaseLosses losses;
  std::uint32_t last = 0;      // layer added last; 0 before the first
  bool in_base = false;        // the layer added last is a base or transition layer
  std::deque<CriticalLayer> waiting;  // layers not yet final, highest first
  std::deque<std::vector<CriticalRun>> waiting_flat;
  // Tiles of the current layer: empty pixels whose settled light is / is not enough. `known` holds the layer they were last
  // looked at for.
  std::vector<TileBits> bright, dark;
  std::vector<std::uint32_t> known;
  TileBits full;    // what a solid tile looks like to its neighbours
  float above = 0;  // light that is just not enough in the current layer

  explicit State(const ExposureContext& with)
      : shared(with),
        context(with.state()),
        linear(context.grid.count(), too_faint(context)),
        fixed(context.grid.count(), too_faint(context) * static_cast<float>(context.settings.normal_s)),
        gaps(context.layers, context.flat_gap_mm),
        bright(context.grid.count()),
        dark(context.grid.count()),
        known(context.grid.count(), 0) {
    full.fill(~std::uint64_t{0});
  }

  // A ten-thousandth of the faintest light that can fuse anything in the range.
  static float too_faint(const ExposureContext::State& context) {
    return static_cast<float>(1e-4 * fuse_threshold_s(context.model, context.model.layer_height_mm) /
                              context.settings.fuse_to_s);
  }

  // Settled light in the units the current layer is judged in: at 1 s for normal layers, at the job's times for the base.
  void load(std::uint32_t t, float* out) const {
    std::fill_n(out, tile_px, 0.0f);
    linear.add_to(t, in_base ? static_cast<float>(context.settings.normal_s) : 1.0f, out);
    if (in_base) fixed.add_to(t, 1.0f, out);
  }
  float settled(std::uint32_t row, std::uint32_t col) const {
    const std::uint32_t t = context.grid.tile_of(row, col), y = row % tile_h, x = col % tile_w;
    if (!in_base) return linear.at(t, y, x);
    return static_cast<float>(context.settings.normal_s) * linear.at(t, y, x) + fixed.at(t, y, x);
  }

  void close_flat_gaps(std::uint32_t number, const Mask& solid);
  void fill_flat_gap(const ClosedGap& gap, std::uint32_t begin, std::uint32_t end, float settled_linear, float settled_fixed);
  void look(std::uint32_t number, const CastLight::State& light, std::uint32_t t);
  void list_narrow(std::uint32_t number, const Layer& layer, const CastLight::State& light);
  void release(double floor_mm, std::vector<CriticalLayer>& finished);
};

void SettledLight::State::fill_flat_gap(const ClosedGap& gap, std::uint32_t begin, std::uint32_t end, float settled_linear,
                                        float settled_fixed) {
  const LayerPlan& earliest = context.plan(gap.from);
  const double threshold = fuse_threshold_s(context.model, earliest.height_mm);
  const double critical = (threshold - settled_fixed) / settled_linear;
  const bool filled_now = settled_fixed + context.settings.normal_s * settled_linear >= threshold;
  const double height_mm = context.plan(gap.since).bottom_mm - earliest.bottom_mm;
  const bool listed = critical > 0 && critical <= context.settings.fuse_to_s;
  const bool by_base_alone = settled_fixed >= threshold;
  for (std::uint32_t layer = gap.from; layer < gap.since; ++layer) {
    const std::size_t at = waiting.front().layer - layer;
    if (!context.normal(layer) || by_base_alone) {
      if (filled_now) waiting_flat[at].push_back({gap.row, begin, end, filled_by_base});
    } else if (listed) {
      CriticalRun run{gap.row, begin, end, static_cast<float>(critical)};
      run.depth_slope = static_cast<float>(-height_mm / context.model.penetration_depth_mm);
      run.height_mm = static_cast<float>(height_mm);
      waiting_flat[at].push_back(run);
    }
  }
}

// Gaps whose floor is layer `number`; the settled light is still that of the layer above, the gap's earliest voxel.
void SettledLight::State::close_flat_gaps(std::uint32_t number, const Mask& solid) {
  gaps.add(number, solid, closed_gaps);
  for (const ClosedGap& gap : closed_gaps) {
    for (std::uint32_t col = gap.begin; col < gap.end;) {
      const std::uint32_t t = context.grid.tile_of(gap.row, col), y = gap.row % tile_h;
      const std::uint32_t tile_end = std::min(gap.end, (col / tile_w + 1) * tile_w);
      const auto values = [&](std::uint32_t c) {
        return std::pair{linear.at(t, y, c % tile_w), in_base ? fixed.at(t, y, c % tile_w) : 0.0f};
      };
      const auto light = values(col);
      std::uint32_t end = col + 1;
      if (linear.uniform(t) && (!in_base || fixed.uniform(t))) {
        end = tile_end;
      } else {
        while (end < tile_end && values(end) == light) ++end;
      }
      fill_flat_gap(gap, col, end, light.first, light.second);
      col = end;
    }
  }
}

// Sorts a tile's empty pixels of layer `number` into bright and dark, once a layer.
void SettledLight::State::look(std::uint32_t number, const CastLight::State& light, std::uint32_t t) {
  if (known[t] == number) return;
  known[t] = number;
  TileBits empty = inside(context.grid, t);
  if (light.dense[t] >= 0) {
    empty = minus(empty, light.solid[static_cast<std::size_t>(light.dense[t])]);
  } else if (is_solid(light.uniform[t])) {
    empty.fill(0);
  }
  if (in_base) {
    float values[tile_px];
    load(t, values);
    compare_above(values, above, bright[t]);
  } else {
    linear.compare(t, above, bright[t]);
  }
  bright[t] = both(bright[t], empty);
  dark[t] = minus(empty, bright[t]);
}

// Narrow gaps: bright empty pixels with nothing dark and empty within reach, inside the closing of the solid.
void SettledLight::State::list_narrow(std::uint32_t number, const Layer& layer, const CastLight::State& light) {
  const LayerPlan& plan = context.plan(number);
  const double threshold = fuse_threshold_s(context.model, plan.height_mm);
  const Grid& grid = context.grid;
  const auto solid_bits = [&](std::uint32_t t) -> const TileBits* {
    if (light.dense[t] >= 0) return &light.solid[static_cast<std::size_t>(light.dense[t])];
    return is_solid(light.uniform[t]) ? &full : nullptr;
  };

  std::vector<NarrowTile> tiles;
  Slopes slopes(context, layer);
  for (std::uint32_t ty = 0, next = 0; ty < grid.ny; ++ty) {
    tiles.clear();
    for (; next < light.dense_tile.size() && light.dense_tile[next] / grid.nx == ty; ++next) {
      const std::uint32_t t = light.dense_tile[next];
      look(number, light, t);
      if (none(bright[t])) continue;
      const auto dark_bits = [&](std::uint32_t other) {
        look(number, light, other);
        return &dark[other];
      };
      TileBits bits = minus(bright[t], grown(neighbours(grid, t, dark_bits), context.reach));
      if (none(bits)) continue;
      bits = both(bits, closed(neighbours(grid, t, solid_bits), context.closing));
      if (none(bits)) continue;
      NarrowTile& tile = tiles.emplace_back(NarrowTile{t % grid.nx, bits, {}, {}});
      if (in_base) continue;
      // Settled light of the empty pixels around; solid ones never count as the darkest.
      constexpr float never = std::numeric_limits<float>::infinity();
      ValueWindow window(context.reach);
      fill_window(window, grid, t, [&](std::uint32_t other, std::uint32_t y, std::uint32_t x) {
        look(number, light, other);
        return (bright[other][y] | dark[other][y]) >> x & 1 ? linear.at(other, y, x) : never;
      }, never);
      tile.darkest.resize(tile_px);
      neighbourhood_min(window, context.reach, tile.darkest.data());
      if (context.settings.slopes) slopes.find(t, plan, window, bits, tile.slope);
    }
    for (std::uint32_t y = 0; y < tile_h && !tiles.empty(); ++y) {
      for (const NarrowTile& tile : tiles) {
        for_each_bit(tile.bits[y], [&](std::uint32_t x) {
          const std::uint32_t col = tile.tx * tile_w + x, at = y * tile_w + x;
          CriticalRun voxel{ty * tile_h + y, col, col + 1, in_base ? filled_by_base : static_cast<float>(threshold / tile.darkest[at])};
          if (!tile.slope.empty()) voxel.blur_slope = tile.slope[at];
          append_voxel(waiting.back().fuse, voxel);
        });
      }
    }
  }
}

// Hands out the layers no gap can reach any more: those more than 4 Dp above the layer added last.
void SettledLight::State::release(double floor_mm, std::vector<CriticalLayer>& finished) {
  while (!waiting.empty()) {
    const LayerPlan& plan = context.plan(waiting.front().layer);
    if (plan.bottom_mm + plan.height_mm - floor_mm <= context.flat_gap_mm + 1e-6) return;
    auto& flat = waiting_flat.front();
    std::sort(flat.begin(), flat.end(), [](const CriticalRun& a, const CriticalRun& b) {
      return a.row != b.row ? a.row < b.row : a.begin < b.begin;
    });
    CriticalLayer layer = std::move(waiting.front());
    layer.fuse = merged(std::move(layer.fuse), std::move(flat));
    std::uint64_t base_filled = 0;
    std::erase_if(layer.fuse, [&](const CriticalRun& run) {
      if (run.critical_s == filled_by_base) base_filled += run.end - run.begin;
      return run.critical_s == filled_by_base;
    });
    losses.fuse_mm3 += static_cast<double>(base_filled) * context.pitch.pixel_mm2() * plan.height_mm;
    if (context.normal(layer.layer)) finished.push_back(std::move(layer));
    waiting.pop_front();
    waiting_flat.pop_front();
  }
}

SettledLight::SettledLight(const ExposureContext& context) : state_(std::make_unique<State>(context)) {}
SettledLight::~SettledLight() = default;
SettledLight::SettledLight(SettledLight&&) noexcept = default;
SettledLight& SettledLight::operator=(SettledLight&&) noexcept = default;

void SettledLight::add(std::uint32_t number, const Layer& layer, const Mask& solid, CastLight&& light,
                       std::vector<CriticalLayer>& finished) {
  State& s = *state_;
  s.close_flat_gaps(number, solid);
  const LayerPlan& plan = s.context.plan(number);
  const bool normal = plan.kind == LayerKind::normal;
  const double above_mm = s.last == 0 ? 0 : s.context.plan(s.last).height_mm;
  const auto pass = static_cast<float>(attenuation(s.context.model, above_mm));
  s.in_base = !normal;
  // Listed: critical <= fuse_to, that is light >= threshold / fuse_to. In the base: light >= threshold at the job's times.
  const double threshold = fuse_threshold_s(s.context.model, plan.height_mm);
  s.above = std::nextafter(static_cast<float>(normal ? threshold / s.context.settings.fuse_to_s : threshold), 0.0f);
  const auto look = [&](std::uint32_t t) { s.look(number, *light.state, t); };
  const auto not_yet = [](std::uint32_t) {};
  if (normal) {
    s.linear.step(*light.state, static_cast<float>(plan.factor), pass, look);
  } else {
    s.linear.step(*light.state, 0.0f, pass, not_yet);
    s.fixed.step(*light.state, static_cast<float>(plan.exposure_s), pass, look);
    s.losses.vanish_mm3 += light.base_vanish_mm3;
  }
  s.waiting.push_back({number, std::move(light.vanish), {}});
  s.waiting_flat.emplace_back();
  s.list_narrow(number, layer, *light.state);
  s.context.pool.give(std::move(light.state));
  s.last = number;
  s.release(plan.bottom_mm, finished);
}

void SettledLight::finish(std::vector<CriticalLayer>& finished) { state_->release(-INFINITY, finished); }

const BaseLosses& SettledLight::base_losses() const { return state_->losses; }

float SettledLight::at(std::uint32_t row, std::uint32_t col) const { return state_->settled(row, col); }

}  // namespace hairline
