// A layer goes through all bands at once, in three steps (band.hpp); bands are put together again, in order, when a
// layer's lists are final.
#include <oneapi/tbb/enumerable_thread_specific.h>
#include <oneapi/tbb/parallel_for.h>

#include <algorithm>
#include <atomic>
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
  bool finished = false;              // only lists are left to be handed out
  std::vector<BandLists> lists;       // of the layer being handed out
  BaseLosses losses;

  explicit State(const ExposureContext& with) : shared(with), context(with.state()) {
    bands.reserve(context.grid.ny);
    lists.resize(context.grid.ny);
    for (std::uint32_t ty = 0; ty < context.grid.ny; ++ty) bands.emplace_back(context, ty);
  }

  // use(index) for all bands, on all threads there are.
  void for_each_band(auto use) { oneapi::tbb::parallel_for(std::size_t{0}, bands.size(), use); }

  // The same as long as no more than `most` runs are listed in all; each thread may be a band over it.
  void list_in_each_band(std::uint64_t most, auto use) {
    std::atomic<std::uint64_t> listed{listed_runs()};
    for_each_band([&](std::size_t i) {
      if (listed > most) return;
      const std::uint64_t before = bands[i].listed();
      use(i);
      listed += bands[i].listed() - before;
    });
  }

  std::uint64_t listed_runs() const;
  std::uint64_t light_bytes() const;
  LayerStep step_of(std::uint32_t number, const Layer& layer, const Mask& solid) const;
  std::optional<CriticalLayer> release(double floor_mm);
};

namespace {

std::uint8_t greatest_value(const Layer& layer) {
  std::uint8_t greatest = 0;
  for (auto run = layer.runs.begin(); run != layer.runs.end() && greatest < 255; ++run)
    greatest = std::max(greatest, run->value);
  return greatest;
}

// A layer's greatest mask value from which on light of 0.98 times it cannot fall on a pixel with less than
// `bulk_value` all around: a third of the light, or more, comes from within 3 blur of there.
constexpr float surely_bulk_from = 0.96f;

// Of a run until its layer has been handed out, in lists that grow and are put together.
constexpr std::uint64_t run_bytes = 48;

}  // namespace

std::uint64_t ExposurePass::State::listed_runs() const {
  std::uint64_t runs = 0;
  for (const Band& band : bands) runs += band.listed();
  return runs;
}

// Beside the patterns of light there is a bit for each pixel, of each layer of a flat gap and of half a dozen maps.
std::uint64_t ExposurePass::State::light_bytes() const {
  std::uint64_t bytes = finished ? 0 : std::uint64_t{context.grid.nx} * context.grid.ny * 20 * sizeof(TileBits);
  for (const Band& band : bands) bytes += band.light_bytes();
  return bytes;
}

LayerStep ExposurePass::State::step_of(std::uint32_t number, const Layer& layer, const Mask& solid) const {
  LayerStep step{number, context.printed(number), layer, solid};
  step.normal = step.printed.kind == LayerKind::normal;
  step.pass = static_cast<float>(attenuation(context.model, last == 0 ? 0 : context.printed(last).height_mm));
  // A voxel is listed when its critical exposure reaches the range, so pixels up to that light are not good, and those
  // from that settled light on are bright. What fuses in base and transition layers is judged at their own time.
  const double bond_s = bond_time_s(context.model, step.printed.height_mm);
  step.full_light_s = step.normal ? bond_s / step.printed.factor : bond_s;
  const double from_s = step.normal ? context.settings.vanish_from_s
                                    : context.settings.base_share * step.printed.time_s(context.settings.base_from_s);
  step.greatest = static_cast<float>(greatest_value(layer)) / 255.0f;
  step.bulk_above = step.greatest < surely_bulk_from ? INFINITY : std::nextafter(bulk_share * step.greatest, 0.0f);
  step.good_above = std::min(static_cast<float>(step.full_light_s / from_s), step.bulk_above);
  step.threshold_s = fuse_threshold_s(context.model, step.printed.height_mm);
  const double enough = step.normal ? step.threshold_s / context.settings.fuse_to_s : step.threshold_s;
  step.narrow_above = std::nextafter(static_cast<float>(enough), 0.0f);
  const double flat_share = flat_threshold_s(context.model, step.printed.height_mm) / step.threshold_s;
  step.bright_above = step.narrow_above;
  if (step.normal && flat_share < 1) step.bright_above = static_cast<float>(flat_share) * step.narrow_above;
  return step;
}

// The highest layer still waiting, when no gap over a floor at `floor_mm` can reach it, or end at it, any more: it lies
// more than 4 Dp above.
std::optional<CriticalLayer> ExposurePass::State::release(double floor_mm) {
  if (waiting.empty()) return std::nullopt;
  const std::uint32_t number = waiting.front();
  const PrintedLayer& printed = context.printed(number);
  if (printed.bottom_mm - floor_mm <= context.flat_gap_mm + 1e-6) return std::nullopt;
  waiting.pop_front();
  for_each_band([&](std::size_t i) { bands[i].hand_out(lists[i]); });
  CriticalLayer layer{number, false, {}, {}, {}};
  std::uint64_t base_filled_px = 0;
  std::size_t vanish_runs = 0, fuse_runs = 0;
  for (const BandLists& band : lists) {
    vanish_runs += band.vanish.size();
    fuse_runs += band.fuse.size();
  }
  layer.vanish.reserve(vanish_runs);
  layer.fuse.reserve(fuse_runs);
  for (BandLists& band : lists) {
    layer.has_bulk = layer.has_bulk || band.has_bulk;
    layer.vanish.insert(layer.vanish.end(), band.vanish.begin(), band.vanish.end());
    layer.fuse.insert(layer.fuse.end(), band.fuse.begin(), band.fuse.end());
    layer.propped.insert(layer.propped.end(), band.propped.begin(), band.propped.end());
    base_filled_px += band.base_filled_px;
    band = {};  // there may be millions of runs in all
  }
  losses.fuse_mm3 += static_cast<double>(base_filled_px) * context.pitch.pixel_mm2() * printed.height_mm;
  return layer;
}

ExposurePass::ExposurePass(const ExposureContext& context) : state_(std::make_unique<State>(context)) {}
ExposurePass::~ExposurePass() = default;
ExposurePass::ExposurePass(ExposurePass&&) noexcept = default;
ExposurePass& ExposurePass::operator=(ExposurePass&&) noexcept = default;

void ExposurePass::add(std::uint32_t number, const Layer& layer, const Mask& solid,
                       std::vector<CriticalLayer>& finished, std::uint64_t most_bytes) {
  State& s = *state_;
  LayerStep step = s.step_of(number, layer, solid);
  const std::uint64_t light = s.light_bytes(), most = (most_bytes - std::min(most_bytes, light)) / run_bytes;
  s.list_in_each_band(most, [&](std::size_t i) { s.bands[i].meet(step, s.bands, s.scratch.local()); });
  if (bytes() > most_bytes) return;
  s.for_each_band([&](std::size_t i) { s.bands[i].expose(step, s.scratch.local()); });
  step.seek_bulk = step.greatest >= bulk_value &&
                   std::none_of(s.bands.begin(), s.bands.end(), [](const Band& band) { return band.surely_bulk(); });
  s.list_in_each_band(most, [&](std::size_t i) { s.bands[i].list(step, s.bands, s.scratch.local()); });
  if (bytes() > most_bytes) return;
  if (number == 1) s.for_each_band([&](std::size_t i) { s.bands[i].meet_plate(s.bands, s.scratch.local()); });
  s.waiting.push_back(number);
  s.last = number;
  while (auto ready = s.release(step.printed.bottom_mm)) finished.push_back(std::move(*ready));
}

std::optional<CriticalLayer> ExposurePass::finish_next() {
  if (!state_->finished)
    for (Band& band : state_->bands) band.drop_light();
  state_->finished = true;
  return state_->release(-INFINITY);
}

std::uint64_t ExposurePass::bytes() const {
  return state_->light_bytes() + state_->listed_runs() * run_bytes;
}

const BaseLosses& ExposurePass::base_losses() const {
  return state_->losses;
}

float ExposurePass::settled(std::uint32_t row, std::uint32_t col) const {
  return state_->bands[row / tile_h].settled(col / tile_w, row % tile_h, col % tile_w);
}

}  // namespace hairline
