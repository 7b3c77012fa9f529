#include "levers.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <cmath>

namespace hairline {
namespace {

// Tonight: times, set at the printer or in the job's settings without slicing again.
void add_times(const PlanContext& context, Suggestion& s) {
  const double now = context.risk.exposure_s;
  if (std::abs(s.exposure_s - now) >= 0.005) {
    s.tonight.push_back(fmt::format("Set the normal exposure to {:.2f} s instead of {:.2f} s.", s.exposure_s, now));
  }
  if (s.base_s && context.base_s && (*context.base_s < 0.6 * *s.base_s || *context.base_s > 1.6 * *s.base_s)) {
    s.tonight.push_back(
        fmt::format("Set the base exposure to {:.0f} s instead of {:.4g} s.", *s.base_s, *context.base_s));
  }
}

void add_slicing(const RiskFound& found, const PlanContext& context, Suggestion& s) {
  constexpr std::size_t most = 3;
  const auto worth_it = [](const IslandRow& island) { return island.area_mm2 >= 1 || island.volume_mm3 >= 1; };
  const auto grave = static_cast<std::size_t>(std::count_if(context.islands.begin(), context.islands.end(), worth_it));
  std::size_t named = 0;
  for (const IslandRow& island : context.islands) {
    if (!worth_it(island)) continue;
    if (named++ == most) break;
    s.slicing.push_back(fmt::format("Put supports under the island on layer {} ({:.1f} mm up), {}.", island.layer,
                                    island.height_mm, place_text(island.box)));
  }
  if (grave > most)
    s.slicing.push_back(fmt::format("Likewise under the {} other islands of 1 mm2 or 1 mm3 and more.", grave - most));
  if (s.layer_height_mm) {
    s.slicing.push_back(fmt::format(
        "Layers of {:.2f} mm would open a window for everything (estimate; print a coupon at that height first).",
        *s.layer_height_mm));
  }
  const bool flat = std::any_of(s.changes.begin(), s.changes.end(), [](const Change& c) { return c.flat; });
  if (flat)
    s.slicing.push_back(
        "Turn the part so that its low flat gaps stand upright: light then falls past them, not through them.");
  const bool hangs = std::any_of(found.falls.begin(), found.falls.end(), [](const Fall& fall) { return fall.loose; });
  if (hangs) s.slicing.push_back("Support what hangs on the vanishing parts by something thicker.");
}

void add_modelling(Suggestion& s) {
  constexpr std::size_t most = 5;
  for (std::size_t i = 0; i < s.changes.size() && i < most; ++i) {
    const Change& c = s.changes[i];
    s.modelling.push_back(
        fmt::format("{} the {} of {:.2f} mm on {}, {}: it needs {:.2f} mm ({:.1f} pixels more) at {:.2f} s.",
                    c.fate == Fate::vanish ? "Thicken"
                    : c.flat               ? "Raise"
                                           : "Widen",
                    c.fate == Fate::vanish ? "part"
                    : c.flat               ? "flat gap"
                                           : "gap",
                    c.width_mm, layers_text(c.from_layer, c.to_layer, c.box), place_text(c.box), c.needed_mm,
                    c.needed_px, s.exposure_s));
  }
  if (s.changes.size() > most) s.modelling.push_back(fmt::format("And {} more like these.", s.changes.size() - most));
}

}  // namespace

void add_levers(const RiskFound& found, const PlanContext& context, Suggestion& suggestion) {
  add_times(context, suggestion);
  add_slicing(found, context, suggestion);
  add_modelling(suggestion);
}

}  // namespace hairline
