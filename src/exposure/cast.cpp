/// Light of one layer, and the solid voxels that may vanish (design 6.1, 6.3).
///
/// A solid voxel holds when light enough to cure reaches any solid pixel within 3 blur of it: edges and corners of
/// sound bodies are dim, but they hang on something that is not. Pixels bright enough are `good`; whatever lies further
/// than 3 blur from all of them is listed. Both are bit maps of tiles, so only what is listed is looked at pixel by
/// pixel.
#include <algorithm>
#include <cmath>

#include "blur.hpp"
#include "context.hpp"
#include "neighbourhood.hpp"

namespace hairline {
namespace {

using namespace exposure;

// The value every tile has in the middle of nowhere: that of its first pixel.
void fill_uniform(const Layer& layer, const Grid& grid, std::vector<float>& uniform) {
  uniform.assign(grid.count(), 0.0f);
  for (std::uint32_t ty = 0; ty < grid.ny; ++ty) {
    for (const Run& run : layer.row(ty * tile_h)) {
      const std::uint32_t first = (run.begin + tile_w - 1) / tile_w, last = (run.end + tile_w - 1) / tile_w;
      for (std::uint32_t tx = first; tx < last; ++tx) {
        uniform[ty * grid.nx + tx] = static_cast<float>(run.value) / 255.0f;
      }
    }
  }
}

void list_dense(const std::vector<std::uint8_t>& near, CastLight::State& state) {
  state.dense.assign(near.size(), -1);
  state.dense_tile.clear();
  for (std::uint32_t t = 0; t < near.size(); ++t) {
    if (near[t] == 0) continue;
    state.dense[t] = static_cast<std::int32_t>(state.dense_tile.size());
    state.dense_tile.push_back(t);
  }
  const std::size_t values = state.dense_tile.size() * tile_px;
  if (state.light.capacity() < values) {  // grown with room to spare, and without copying what is overwritten anyway
    state.light = {};
    state.light.reserve(values + values / 4);
  }
  state.light.resize(values);
  state.solid.resize(state.dense_tile.size());
}

// Bits of the mask in the dense tiles.
void fill_solid_bits(const Mask& solid, CastLight::State& state) {
  const Grid& grid = state.grid;
  for (TileBits& bits : state.solid) bits.fill(0);
  for (std::uint32_t r = 0; r < grid.size.height_px; ++r) {
    const std::int32_t* dense = state.dense.data() + r / tile_h * grid.nx;
    const std::uint32_t y = r % tile_h;
    for (const Span& span : solid.row(r)) {
      for (std::uint32_t tx = span.begin / tile_w; tx * tile_w < span.end; ++tx) {
        if (dense[tx] < 0) continue;
        const std::uint32_t from = std::max(span.begin, tx * tile_w) - tx * tile_w;
        const std::uint32_t to = std::min(span.end - tx * tile_w, tile_w);
        const std::uint64_t up_to = to == tile_w ? ~std::uint64_t{0} : (std::uint64_t{1} << to) - 1;
        state.solid[static_cast<std::size_t>(dense[tx])][y] |= up_to & ~((std::uint64_t{1} << from) - 1);
      }
    }
  }
}

// The solid pixels of a layer, and those brighter than a threshold, by tile.
class GoodBits {
 public:
  GoodBits(const CastLight::State& state, float above) : state_(state), above_(above), good_(state.dense_tile.size()) {
    full_.fill(~std::uint64_t{0});
  }
  // Looks at one dense tile; to be called for each, while its light is at hand.
  void look(std::size_t i) {
    compare_above(state_.light.data() + i * tile_px, above_, good_[i]);
    good_[i] = both(good_[i], state_.solid[i]);
  }
  bool has_solid(std::uint32_t t) const { return state_.dense[t] >= 0 || is_solid(state_.uniform[t]); }
  // Solid pixels of a tile with nothing good within reach.
  TileBits listed(std::uint32_t t, const Disc& reach) const {
    const std::int32_t i = state_.dense[t];
    const TileBits weak = i >= 0 ? minus(state_.solid[static_cast<std::size_t>(i)], good_[static_cast<std::size_t>(i)])
                          : is_solid(state_.uniform[t]) && !(state_.uniform[t] > above_) ? inside(state_.grid, t)
                                                                                         : TileBits{};
    if (none(weak)) return weak;
    return minus(weak, grown(neighbours(state_.grid, t, [this](std::uint32_t other) { return good(other); }), reach));
  }

 private:
  const TileBits* good(std::uint32_t t) const {
    if (state_.dense[t] >= 0) return &good_[static_cast<std::size_t>(state_.dense[t])];
    return is_solid(state_.uniform[t]) && state_.uniform[t] > above_ ? &full_ : nullptr;
  }
  const CastLight::State& state_;
  float above_;
  std::vector<TileBits> good_;
  TileBits full_;  // what a tile full of good pixels looks like to its neighbours
};

void blur_dense(const Kernel& kernel, const Layer& layer, CastLight::State& state, GoodBits& bits) {
  Blurrer blurrer(kernel, layer);
  for (std::size_t i = 0; i < state.dense_tile.size(); ++i) {
    const std::uint32_t tx = state.dense_tile[i] % state.grid.nx, ty = state.dense_tile[i] / state.grid.nx;
    blurrer.blur({static_cast<int>(tx * tile_w), static_cast<int>(ty * tile_h), tile_w, tile_h},
                 state.light.data() + i * tile_px);
    bits.look(i);
  }
}

// Brightest solid pixel within reach of the pixels in `wanted`'s rows of a tile; `wider`: light of the wider blur over
// the same window, to be searched instead.
void brightest(const CastLight::State& state, std::uint32_t t, const Disc& reach, const TileBits& wanted,
               const float* wider, float* out) {
  ValueWindow window(reach);
  constexpr float never = -1;
  fill_window(window, state.grid, t, never,
              [&](std::uint32_t other, std::uint32_t y, std::uint32_t x, std::uint32_t count, float* into) {
                const float* tile = state.tile(other);
                if (tile == nullptr) {
                  std::fill_n(into, count, is_solid(state.uniform[other]) ? state.uniform[other] : never);
                  return;
                }
                const std::uint64_t solid = state.solid[static_cast<std::size_t>(state.dense[other])][y] >> x;
                for (std::uint32_t i = 0; i < count; ++i) into[i] = solid >> i & 1 ? tile[y * tile_w + x + i] : never;
              });
  if (wider != nullptr) {
    for (std::size_t i = 0; i < window.value.size(); ++i) {
      if (window.value[i] >= 0) window.value[i] = wider[i];
    }
  }
  neighbourhood_max(window, reach, wanted, out);
}

// Light of the wider blur in a tile and its surroundings.
const float* wider_light(const ExposureContext::State& context, Blurrer& blurrer, std::uint32_t t,
                         std::vector<float>& out) {
  const Rect rect = window_rect(context.grid, t, context.reach);
  out.resize(static_cast<std::size_t>(rect.width * rect.height));
  blurrer.blur(rect, out.data());
  return out.data();
}

struct ListedTile {
  std::uint32_t tx = 0;
  TileBits bits;
  std::vector<float> brightest, brightest_wider;
};

void append_row(const std::vector<ListedTile>& tiles, std::uint32_t ty, std::uint32_t y, double full_light_s,
                std::vector<CriticalRun>& runs) {
  for (const ListedTile& tile : tiles) {
    for_each_bit(tile.bits[y], [&](std::uint32_t x) {
      const std::uint32_t col = tile.tx * tile_w + x, at = y * tile_w + x;
      CriticalRun voxel{ty * tile_h + y, col, col + 1, static_cast<float>(full_light_s / tile.brightest[at])};
      if (!tile.brightest_wider.empty()) {
        voxel.blur_slope =
            static_cast<float>(-std::log(tile.brightest_wider[at] / tile.brightest[at]) / std::log1p(blur_step));
      }
      append_voxel(runs, voxel);
    });
  }
}

std::vector<CriticalRun> list_vanishing(const ExposureContext::State& context, const Layer& layer, double full_light_s,
                                        const CastLight::State& state, const GoodBits& bits) {
  std::vector<CriticalRun> runs;
  Blurrer wider_blurrer(context.wider_kernel, layer);
  std::vector<float> wider;
  std::vector<ListedTile> tiles;
  for (std::uint32_t ty = 0; ty < state.grid.ny; ++ty) {
    tiles.clear();
    for (std::uint32_t tx = 0; tx < state.grid.nx; ++tx) {
      const std::uint32_t t = ty * state.grid.nx + tx;
      if (!bits.has_solid(t)) continue;
      const TileBits listed = bits.listed(t, context.reach);
      if (none(listed)) continue;
      ListedTile& tile = tiles.emplace_back(ListedTile{tx, listed, std::vector<float>(tile_px), {}});
      brightest(state, t, context.reach, listed, nullptr, tile.brightest.data());
      if (context.settings.slopes) {
        tile.brightest_wider.resize(tile_px);
        brightest(state, t, context.reach, listed, wider_light(context, wider_blurrer, t, wider),
                  tile.brightest_wider.data());
      }
    }
    if (tiles.empty()) continue;
    for (std::uint32_t y = 0; y < tile_h; ++y) append_row(tiles, ty, y, full_light_s, runs);
  }
  return runs;
}

}  // namespace

CastLight::CastLight() = default;
CastLight::~CastLight() = default;
CastLight::CastLight(CastLight&&) noexcept = default;
CastLight& CastLight::operator=(CastLight&&) noexcept = default;

float CastLight::at(std::uint32_t row, std::uint32_t col) const {
  const std::uint32_t t = state->grid.tile_of(row, col);
  const float* tile = state->tile(t);
  return tile == nullptr ? state->uniform[t] : tile[row % tile_h * tile_w + col % tile_w];
}

CastLight cast_light(const ExposureContext& shared, std::uint32_t number, const Layer& layer, const Mask& solid) {
  const ExposureContext::State& context = shared.state();
  const LayerPlan& plan = context.plan(number);
  CastLight light;
  light.state = context.pool.take();
  CastLight::State& state = *light.state;
  state.grid = context.grid;
  std::vector<std::uint8_t> near;
  mark_near_edges(layer, state.grid, context.kernel.radius_x, context.kernel.radius_y, near);
  fill_uniform(layer, state.grid, state.uniform);
  list_dense(near, state);
  fill_solid_bits(solid, state);
  // Normal layers: listed when critical = full_light_s / light reaches the range, so pixels up to that light are not
  // good. Base and transition layers: lost when their own time is too short.
  const bool normal = plan.kind == LayerKind::normal;
  const double bond_s = bond_time_s(context.model, plan.height_mm);
  const double full_light_s = bond_s / plan.factor;  // normal exposure at which full light just holds
  const float above = normal ? static_cast<float>(full_light_s / context.settings.vanish_from_s)
                             : std::nextafter(static_cast<float>(bond_s / plan.exposure_s), 0.0f);
  GoodBits bits(state, above);
  blur_dense(context.kernel, layer, state, bits);
  if (normal) {
    light.vanish = list_vanishing(context, layer, full_light_s, state, bits);
    return light;
  }
  std::uint64_t lost = 0;
  for (std::uint32_t t = 0; t < state.grid.count(); ++t) {
    if (bits.has_solid(t)) lost += count(bits.listed(t, context.reach));
  }
  light.base_vanish_mm3 = static_cast<double>(lost) * context.pitch.pixel_mm2() * plan.height_mm;
  return light;
}

}  // namespace hairline
