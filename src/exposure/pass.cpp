// A layer goes through all bands at once, first by itself, then with its neighbours (band.hpp); bands are put together
// again, in order, when a layer's lists are final.
#include <oneapi/tbb/enumerable_thread_specific.h>
#include <oneapi/tbb/parallel_for.h>

#include <algorithm>
#include <cmath>

#include "band.hpp"

namespace hairline {

using namespace exposure;

struct ExposurePass::State {
  ExposureContext shared;
  const ExposureContext::State& context;
  std::vector<Band> bands;
  oneapi::tbb::enumerable_thread_specific<BandScratch> scratch;
  std::deque<std::uint32_t> waiting;  // layers not yet handed out, highest first
  std::uint32_t last = 0;             // layer added last; 0 before the first
  std::vector<BandLists> lists;       // of the layer being handed out
  BaseLosses losses;

  explicit State(const ExposureContext& with) : shared(with), context(with.state()) {
    bands.reserve(context.grid.ny);
    lists.resize(context.grid.ny);
    for (std::uint32_t ty = 0; ty < context.grid.ny; ++ty) bands.emplace_back(context, ty);
  }

  // use(index) for all bands, on all threads there are.
  void for_each_band(auto use) { oneapi::tbb::parallel_for(std::size_t{0}, bands.size(), use); }

  LayerStep step_of(std::uint32_t number, const Layer& layer, const Mask& solid) const;
  std::optional<CriticalLayer> release(double floor_mm);
};

LayerStep ExposurePass::State::step_of(std::uint32_t number, const Layer& layer, const Mask& solid) const {
  LayerStep step{number, context.plan(number), layer, solid};
  step.normal = step.plan.kind == LayerKind::normal;
  step.pass = static_cast<float>(attenuation(context.model, last == 0 ? 0 : context.plan(last).height_mm));
  // Normal layers: a voxel is listed when its critical exposure reaches the range, so pixels up to that light are not
  // good, and those from that settled light on are bright. Base and transition layers are judged at their own time.
  const double bond_s = bond_time_s(context.model, step.plan.height_mm);
  step.full_light_s = bond_s / step.plan.factor;
  step.good_above = step.normal ? static_cast<float>(step.full_light_s / context.settings.vanish_from_s)
                                : std::nextafter(static_cast<float>(bond_s / step.plan.exposure_s), 0.0f);
  step.threshold_s = fuse_threshold_s(context.model, step.plan.height_mm);
  const double enough = step.normal ? step.threshold_s / context.settings.fuse_to_s : step.threshold_s;
  step.bright_above = std::nextafter(static_cast<float>(enough), 0.0f);
  return step;
}

// The highest normal layer still waiting, when no gap over a floor at `floor_mm` can reach it any more: it lies more
// than 4 Dp above.
std::optional<CriticalLayer> ExposurePass::State::release(double floor_mm) {
  while (!waiting.empty()) {
    const std::uint32_t number = waiting.front();
    const LayerPlan& plan = context.plan(number);
    if (plan.bottom_mm + plan.height_mm - floor_mm <= context.flat_gap_mm + 1e-6) break;
    waiting.pop_front();
    for_each_band([&](std::size_t i) { bands[i].hand_out(lists[i]); });
    CriticalLayer layer{number, {}, {}};
    std::uint64_t base_filled_px = 0;
    std::size_t vanish_runs = 0, fuse_runs = 0;
    for (const BandLists& band : lists) {
      vanish_runs += band.vanish.size();
      fuse_runs += band.fuse.size();
    }
    layer.vanish.reserve(vanish_runs);
    layer.fuse.reserve(fuse_runs);
    for (const BandLists& band : lists) {
      layer.vanish.insert(layer.vanish.end(), band.vanish.begin(), band.vanish.end());
      layer.fuse.insert(layer.fuse.end(), band.fuse.begin(), band.fuse.end());
      base_filled_px += band.base_filled_px;
    }
    losses.fuse_mm3 += static_cast<double>(base_filled_px) * context.pitch.pixel_mm2() * plan.height_mm;
    if (context.normal(number)) return layer;
  }
  return std::nullopt;
}

ExposurePass::ExposurePass(const ExposureContext& context) : state_(std::make_unique<State>(context)) {}
ExposurePass::~ExposurePass() = default;
ExposurePass::ExposurePass(ExposurePass&&) noexcept = default;
ExposurePass& ExposurePass::operator=(ExposurePass&&) noexcept = default;

void ExposurePass::add(std::uint32_t number, const Layer& layer, const Mask& solid,
                       std::vector<CriticalLayer>& finished) {
  State& s = *state_;
  const LayerStep step = s.step_of(number, layer, solid);
  s.for_each_band([&](std::size_t i) { s.bands[i].expose(step, s.scratch.local()); });
  s.for_each_band([&](std::size_t i) { s.bands[i].list(step, s.bands, s.scratch.local()); });
  std::uint64_t base_lost_px = 0;
  for (const Band& band : s.bands) base_lost_px += band.base_lost_px();
  s.losses.vanish_mm3 += static_cast<double>(base_lost_px) * s.context.pitch.pixel_mm2() * step.plan.height_mm;
  s.waiting.push_back(number);
  s.last = number;
  while (auto ready = s.release(step.plan.bottom_mm)) finished.push_back(std::move(*ready));
}

std::optional<CriticalLayer> ExposurePass::finish_next() {
  return state_->release(-INFINITY);
}

const BaseLosses& ExposurePass::base_losses() const {
  return state_->losses;
}

float ExposurePass::settled(std::uint32_t row, std::uint32_t col) const {
  return state_->bands[row / tile_h].settled(col / tile_w, row % tile_h, col % tile_w);
}

}  // namespace hairline
