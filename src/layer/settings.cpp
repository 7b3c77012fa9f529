#include "hairline/settings.hpp"

#include <algorithm>

namespace hairline {
namespace {

struct BaseRange {
  std::uint32_t base_to = 0, transition_to = 0;  // last base and last transition layer, 1-based; 0: none
};

// A job without a base exposure of its own prints its base at the normal one, so it has normal layers only.
BaseRange base_range(const JobSettings& settings) {
  if (!settings.base_s) return {};
  const std::uint64_t base = settings.base_layers, transition = settings.transition_layers,
                      count = settings.layer_count;
  return {static_cast<std::uint32_t>(std::min(base, count)),
          static_cast<std::uint32_t>(std::min(base + transition, count))};
}

LayerKind kind_of(const BaseRange& range, std::uint32_t number) {
  if (number <= range.base_to) return LayerKind::base;
  return number <= range.transition_to ? LayerKind::transition : LayerKind::normal;
}

// Share of the way from the base to the normal exposure, in equal steps that reach neither end: with 4 transition
// layers the time falls by a fifth of the way on each.
double share_of_normal(const JobSettings& settings, std::uint32_t number) {
  if (number <= settings.base_layers) return 0;
  return static_cast<double>(number - settings.base_layers) / (settings.transition_layers + 1.0);
}

const Exception* exception_for(const JobSettings& settings, std::uint32_t number) {
  const auto& list = settings.exceptions;
  const auto after = std::upper_bound(list.begin(), list.end(), number,
                                      [](std::uint32_t n, const Exception& e) { return n < e.from_layer; });
  if (after == list.begin()) return nullptr;
  const Exception& candidate = *(after - 1);
  return number <= candidate.to_layer ? &candidate : nullptr;
}

PrintedLayer print_one(const JobSettings& settings, const BaseRange& range, std::uint32_t number,
                       double normal_exposure_s) {
  const Exception* exception = exception_for(settings, number);
  PrintedLayer printed;
  printed.height_mm = exception && exception->height_mm ? *exception->height_mm : settings.height_mm;
  printed.kind = kind_of(range, number);
  const bool own_exposure = exception && exception->exposure_s;
  if (printed.kind == LayerKind::normal) {
    if (own_exposure && settings.normal_s > 0) printed.factor = *exception->exposure_s / settings.normal_s;
  } else {
    printed.factor = own_exposure ? 0 : share_of_normal(settings, number);
    printed.fixed_s = own_exposure ? *exception->exposure_s : *settings.base_s * (1 - printed.factor);
  }
  printed.exposure_s = printed.time_s(normal_exposure_s);
  return printed;
}

// Layers of one height are counted, not summed up, so 1000 layers of 0.05 mm end at 50 mm and not a hair off.
void stack_up(std::vector<PrintedLayer>& layers) {
  double from_mm = 0;
  std::uint32_t since = 0;
  for (std::size_t i = 0; i < layers.size(); ++i) {
    if (i > 0 && layers[i].height_mm != layers[i - 1].height_mm) {
      from_mm += since * layers[i - 1].height_mm;
      since = 0;
    }
    layers[i].bottom_mm = from_mm + since * layers[i].height_mm;
    ++since;
  }
}

}  // namespace

std::vector<PrintedLayer> printed_layers(const JobSettings& settings, double normal_exposure_s) {
  const BaseRange range = base_range(settings);
  std::vector<PrintedLayer> layers;
  layers.reserve(settings.layer_count);
  for (std::uint32_t number = 1; number <= settings.layer_count; ++number)
    layers.push_back(print_one(settings, range, number, normal_exposure_s));
  stack_up(layers);
  return layers;
}

double duration_s(const JobSettings& settings, const std::vector<PrintedLayer>& layers) {
  const Motion& motion = settings.motion;
  const double lift_mm = motion.lift_mm.value_or(assumed_motion.lift_mm);
  const double up_mm_per_s = motion.lift_mm_per_min.value_or(assumed_motion.lift_mm_per_min) / 60;
  const double down_mm_per_s = motion.retract_mm_per_min.value_or(assumed_motion.retract_mm_per_min) / 60;
  const double rests_s = motion.rest_before_s.value_or(assumed_motion.rest_before_s) +
                         motion.rest_after_s.value_or(assumed_motion.rest_after_s);
  const double between_s = lift_mm / up_mm_per_s + lift_mm / down_mm_per_s + rests_s;
  double exposures_s = 0;
  for (const PrintedLayer& layer : layers) exposures_s += layer.exposure_s;
  return exposures_s + between_s * static_cast<double>(layers.size());
}

}  // namespace hairline
