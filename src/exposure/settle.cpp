/// The empty voxels that may fuse, layer by layer from the top down (design 6.2, 6.4).
///
/// Two fields of settled light are kept: `linear`, light of the normal layers at a normal exposure of 1 s, and `fixed`,
/// light of base and transition layers at their own times. Base layers lie below the normal ones, so above them `fixed`
/// is zero.
#include <algorithm>
#include <cmath>
#include <deque>

#include "context.hpp"
#include "field.hpp"
#include "flat_gaps.hpp"
#include "neighbourhood.hpp"
#include "slopes.hpp"

namespace hairline {
namespace {

using namespace exposure;

// Critical exposure of an empty voxel that the base fills: below every other, so it wins where gaps meet, and each
// voxel is counted once. Such runs wait with the layers, and are counted and dropped when a layer is handed out.
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

}  // namespace

struct SettledLight::State {
  ExposureContext shared;
  const ExposureContext::State& context;
  Field linear, fixed;
  FlatGaps gaps;
  std::vector<ClosedGap> closed_gaps;
  BaseLosses losses;
  std::uint32_t last = 0;             // layer added last; 0 before the first
  bool in_base = false;               // the layer added last is a base or transition layer
  std::deque<CriticalLayer> waiting;  // layers not yet final, highest first
  std::deque<std::vector<CriticalRun>> waiting_flat;
  // Tiles of the current layer: empty pixels whose settled light is / is not enough. `known` holds the layer they were
  // last looked at for.
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

  // Settled light in the units the current layer is judged in: at 1 s for normal layers, at the job's times for the
  // base.
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
  void fill_flat_gap(const ClosedGap& gap, std::uint32_t begin, std::uint32_t end, float settled_linear,
                     float settled_fixed);
  void look(std::uint32_t number, const CastLight::State& light, std::uint32_t t);
  void list_narrow(std::uint32_t number, const Layer& layer, const CastLight::State& light);
  void release(double floor_mm, std::vector<CriticalLayer>& finished);
};

void SettledLight::State::fill_flat_gap(const ClosedGap& gap, std::uint32_t begin, std::uint32_t end,
                                        float settled_linear, float settled_fixed) {
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
      bits = both(bits, closed(neighbours(grid, t, solid_bits), context.closing, bits));
      if (none(bits)) continue;
      NarrowTile& tile = tiles.emplace_back(NarrowTile{t % grid.nx, bits, {}, {}});
      if (in_base) continue;
      // Settled light of the empty pixels around; solid ones never count as the darkest.
      constexpr float never = std::numeric_limits<float>::infinity();
      ValueWindow window(context.reach);
      fill_window(window, grid, t, never,
                  [&](std::uint32_t other, std::uint32_t y, std::uint32_t x, std::uint32_t count, float* into) {
                    look(number, light, other);
                    const std::uint64_t empty = (bright[other][y] | dark[other][y]) >> x;
                    for (std::uint32_t i = 0; i < count; ++i) {
                      into[i] = empty >> i & 1 ? linear.at(other, y, x + i) : never;
                    }
                  });
      tile.darkest.resize(tile_px);
      neighbourhood_min(window, context.reach, bits, tile.darkest.data());
      if (context.settings.slopes) slopes.find(t, plan, window, bits, tile.slope);
    }
    for (std::uint32_t y = 0; y < tile_h && !tiles.empty(); ++y) {
      for (const NarrowTile& tile : tiles) {
        for_each_bit(tile.bits[y], [&](std::uint32_t x) {
          const std::uint32_t col = tile.tx * tile_w + x, at = y * tile_w + x;
          CriticalRun voxel{ty * tile_h + y, col, col + 1,
                            in_base ? filled_by_base : static_cast<float>(threshold / tile.darkest[at])};
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
  // Listed: critical <= fuse_to, that is light >= threshold / fuse_to. In the base: light >= threshold at the job's
  // times.
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

void SettledLight::finish(std::vector<CriticalLayer>& finished) {
  state_->release(-INFINITY, finished);
}

const BaseLosses& SettledLight::base_losses() const {
  return state_->losses;
}

float SettledLight::at(std::uint32_t row, std::uint32_t col) const {
  return state_->settled(row, col);
}

}  // namespace hairline
