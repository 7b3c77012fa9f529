/// Window and safer time from the contenders' critical exposures (design 6.9; docs/exposure.md).
#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <tuple>

#include "hairline/plan.hpp"
#include "levers.hpp"

namespace hairline {
namespace {

constexpr double step_s = 0.05;  // printers take times in such steps; the suggestion is rounded to it

bool avoidable(const Contender& c, const CureModel& model) {
  return c.fate == Fate::vanish ? c.critical_exposure_s <= model.valid_to_s
                                : c.critical_exposure_s > model.valid_from_s;
}
bool flips(const Contender& c, double exposure_s) {
  return c.fate == Fate::vanish ? c.critical_exposure_s > exposure_s : c.critical_exposure_s <= exposure_s;
}

double expected_losses(const std::vector<Contender>& contenders, double exposure_s) {
  double sum = 0;
  for (const Contender& c : contenders) sum += chance(c.fate, c.critical_exposure_s, exposure_s, c.log_sd);
  return sum;
}

SweepPoint sweep_point(const RiskFound& found, double exposure_s) {
  SweepPoint point;
  point.exposure_s = exposure_s;
  for (const Contender& c : found.contenders) {
    if (flips(c, exposure_s)) (c.fate == Fate::vanish ? point.vanish : point.fuse) += 1;
  }
  point.vanish_mm3 = found.vanish_curve.above_mm3(exposure_s);
  point.fuse_mm3 = found.fuse_curve.up_to_mm3(exposure_s);
  point.expected_losses = expected_losses(found.contenders, exposure_s);
  return point;
}

// Where the avoidable contenders push: everything that may vanish holds from `from_s`, everything that may fuse stays
// open below `to_s`; both inside the valid range.
struct Ends {
  double from_s = 0, to_s = 0;
};
Ends window_ends(const std::vector<Contender>& contenders, const CureModel& model) {
  Ends ends{model.valid_from_s, model.valid_to_s};
  for (const Contender& c : contenders) {
    if (!avoidable(c, model)) continue;
    if (c.fate == Fate::vanish) {
      ends.from_s = std::max(ends.from_s, c.critical_exposure_s);
    } else {
      ends.to_s = std::min(ends.to_s, c.critical_exposure_s);
    }
  }
  return ends;
}

double rounded(double value, double step) {
  return std::round(value / step) * step;
}

// The middle of the window in log time, rounded to 0.05 s where that stays inside and within 2 % of it, else as finely
// as it needs.
double middle_of(const Ends& ends) {
  const double middle = std::sqrt(ends.from_s * ends.to_s);
  for (const double step : {step_s, 0.01, 0.001}) {
    const double exposure_s = rounded(middle, step);
    const bool even = std::abs(std::log(exposure_s / middle)) < 0.02;
    if (even && exposure_s > ends.from_s && exposure_s < ends.to_s) return exposure_s;
  }
  return middle;
}

// The time with the fewest expected losses. Far from every critical exposure the losses hardly differ any more, so of
// all times within a hundredth of a detail of the fewest the one nearest to `middle_s` is taken: it asks for the least
// change.
double fewest_losses(const std::vector<Contender>& contenders, const CureModel& model, double middle_s) {
  constexpr double alike = 0.01;
  const auto first = static_cast<int>(std::ceil(model.valid_from_s / step_s - 1e-9));
  const auto last = static_cast<int>(std::floor(model.valid_to_s / step_s + 1e-9));
  std::vector<double> losses;
  for (int i = first; i <= last; ++i) losses.push_back(expected_losses(contenders, i * step_s));
  double best_s = std::sqrt(model.valid_from_s * model.valid_to_s), nearest = INFINITY;
  if (losses.empty()) return best_s;
  const double fewest = *std::min_element(losses.begin(), losses.end());
  for (int i = first; i <= last; ++i) {
    const double distance = std::abs(std::log(i * step_s / middle_s));
    if (losses[static_cast<std::size_t>(i - first)] > fewest + alike || distance >= nearest) continue;
    nearest = distance;
    best_s = i * step_s;
  }
  return best_s;
}

// Is the contender's critical exposure, at its layer, that of a straight wall (slot) of its width? A wall an even
// number of pixels wide has its brightest pixel half a pixel beside its middle (docs/exposure.md).
bool straight(const Contender& c, const CureModel& here, double critical_s, Pitch pitch) {
  const bool vanish = c.fate == Fate::vanish;
  const auto light = vanish ? wall_light : slot_light;
  const double threshold_s = vanish ? here.bond_time_s : here.fuse_time_s;
  const auto explains = [&](double share) { return std::abs(std::log(critical_s * share / threshold_s)) < 0.02; };
  if (explains(light(here, c.width_mm))) return true;
  for (const double p : {pitch.x_mm, pitch.y_mm}) {
    if (c.width_mm > p && explains(0.5 * (light(here, c.width_mm + p) + light(here, c.width_mm - p)))) return true;
  }
  return false;
}

// Size a contender would need not to flip at `exposure_s`: the limit of its shape there. A wall and a pin (a slot and a
// hole) of one width differ in light; the one that explains the critical exposure better is taken. Where the place is
// darker or brighter than its width alone explains, the difference of the limits is added to what is drawn.
double needed_mm(const Contender& c, const RiskContext& risk, double exposure_s) {
  const LayerPlan& plan = risk.layers[c.from_layer - 1];
  const double at_s = exposure_s * plan.factor, critical_s = c.critical_exposure_s * plan.factor;
  CureModel here = risk.model;
  here.bond_time_s = bond_time_s(risk.model, plan.height_mm);
  here.fuse_time_s = fuse_time_s(risk.model, plan.height_mm) * (1 - attenuation(risk.model, plan.height_mm)) /
                     (1 - attenuation(risk.model, risk.model.layer_height_mm));
  using Limit = double (*)(const CureModel&, double);
  const Limit wall = c.fate == Fate::vanish ? wall_limit_mm : c.flat ? flat_slot_limit_mm : slot_limit_mm;
  const Limit round = c.fate == Fate::vanish ? pin_limit_mm : c.flat ? flat_slot_limit_mm : hole_limit_mm;
  const auto misfit = [&](Limit limit) { return std::abs(std::log(limit(here, critical_s) / c.width_mm)); };
  const bool is_wall = c.flat || straight(c, here, critical_s, risk.pitch) || misfit(wall) <= misfit(round);
  const Limit limit = is_wall ? wall : round;
  const double needed = limit(here, at_s);
  return needed > c.width_mm ? needed : c.width_mm + needed - limit(here, critical_s);
}

std::vector<Change> needed_changes(const std::vector<Contender>& contenders, const PlanContext& context,
                                   double exposure_s) {
  std::vector<Change> changes;
  const double pitch_mm = std::min(context.risk.pitch.x_mm, context.risk.pitch.y_mm);
  for (const Contender& c : contenders) {
    if (!flips(c, exposure_s)) continue;
    const double needed = needed_mm(c, context.risk, exposure_s);
    if (!std::isfinite(needed)) continue;
    changes.push_back({c.fate, c.from_layer, c.to_layer, c.box, c.width_mm, needed, (needed - c.width_mm) / pitch_mm,
                       c.flat, c.critical_exposure_s});
  }
  const auto order = [exposure_s](const Change& c) {  // rounded, so that like ones come in the order of their place
    const double severity = std::round(1e6 * std::abs(std::log(c.critical_exposure_s / exposure_s)));
    return std::tuple{-severity, c.from_layer, c.box.from.y, c.box.from.x};
  };
  std::stable_sort(changes.begin(), changes.end(),
                   [&](const Change& a, const Change& b) { return order(a) < order(b); });
  return changes;
}

// Another layer height at which everything avoidable would fit into one window (design 6.5), nearest to the job's; an
// estimate: the details are taken to keep their light.
std::optional<double> better_height(const std::vector<Contender>& contenders, const PlanContext& context) {
  const CureModel& model = context.risk.model;
  const double now = context.layer_height_mm;
  std::optional<double> best;
  for (int i = 2; i <= 10; ++i) {
    const double height = i * 0.01;
    if (std::abs(height - now) < 1e-9) continue;
    const double vanish_scale = bond_time_s(model, height) / bond_time_s(model, now);
    const double fuse_scale = fuse_threshold_s(model, height) / fuse_threshold_s(model, now) *
                              (1 - attenuation(model, height)) / (1 - attenuation(model, now));
    double from_s = model.valid_from_s, to_s = model.valid_to_s;
    for (const Contender& c : contenders) {
      if (!avoidable(c, model)) continue;
      if (c.fate == Fate::vanish) from_s = std::max(from_s, c.critical_exposure_s * vanish_scale);
      if (c.fate == Fate::fuse) to_s = std::min(to_s, c.critical_exposure_s * fuse_scale);
    }
    if (from_s < to_s && (!best || std::abs(height - now) < std::abs(*best - now))) best = height;
  }
  return best;
}

// Ten times the normal exposure (common practice, no source), held inside what the record's base readings allow.
double base_exposure(double normal_s, const std::vector<BaseReading>& readings) {
  double target = 10 * normal_s, least_held = INFINITY, most_held = 0, lifted = 0, welded = INFINITY;
  for (const BaseReading& reading : readings) {
    if (reading.result == BaseResult::held) {
      least_held = std::min(least_held, reading.base_s);
      most_held = std::max(most_held, reading.base_s);
    }
    if (reading.result == BaseResult::lifted) lifted = std::max(lifted, reading.base_s);
    if (reading.result == BaseResult::welded) welded = std::min(welded, reading.base_s);
  }
  if (most_held > 0) target = std::clamp(target, least_held, most_held);
  if (target <= lifted) target = std::isfinite(welded) ? std::sqrt(lifted * welded) : 1.25 * lifted;
  if (target >= welded) target = lifted > 0 ? std::sqrt(lifted * welded) : 0.8 * welded;
  return std::round(target);
}

std::string suggestion_text(const Suggestion& s, const RiskFound& found, double exposure_s) {
  if (s.conflict) {
    return fmt::format(
        "No exposure saves everything: {:.2f} s loses least. What flips there needs another shape or another layer "
        "height.",
        s.exposure_s);
  }
  const auto& window = *s.window_s;
  const bool inside = exposure_s > window[0] && exposure_s < window[1];
  if (found.contenders.empty()) {
    return fmt::format("Nothing fails anywhere between {:.2f} and {:.2f} s, the times the record covers.", window[0],
                       window[1]);
  }
  return fmt::format(
      "{} Between {:.2f} and {:.2f} s nothing avoidable is likely to fail; {:.2f} s keeps the same distance from both "
      "ends.",
      inside ? "The time is inside the window." : "Another time is safer.", window[0], window[1], s.exposure_s);
}

}  // namespace

std::vector<double> sweep_times(const SweepSettings& settings, const CureModel& model) {
  const double from = settings.from_s > 0 ? settings.from_s : model.valid_from_s;
  const double to = settings.to_s > 0 ? settings.to_s : model.valid_to_s;
  std::vector<double> times;
  if (settings.steps > 1) {
    for (std::uint32_t i = 0; i < settings.steps; ++i) times.push_back(from + (to - from) * i / (settings.steps - 1));
    return times;
  }
  double step = step_s;
  while ((to - from) / step > 58) step *= 2;
  times.push_back(from);
  for (double t = (std::floor(from / step + 1e-9) + 1) * step; t < to - 1e-9; t += step) times.push_back(t);
  if (to > from) times.push_back(to);
  return times;
}

Suggestion suggest(const RiskFound& found, const PlanContext& context) {
  const CureModel& model = context.risk.model;
  // Contenders beyond the valid range are there for a wider sweep only.
  std::vector<Contender> contenders;
  for (const Contender& c : found.contenders) {
    if (c.fate == Fate::vanish ? c.critical_exposure_s >= model.valid_from_s
                               : c.critical_exposure_s <= model.valid_to_s) {
      contenders.push_back(c);
    }
  }
  Suggestion s;
  const Ends ends = window_ends(contenders, model);
  s.conflict = ends.from_s >= ends.to_s;
  if (s.conflict) {
    s.exposure_s = fewest_losses(contenders, model, std::sqrt(ends.from_s * ends.to_s));
    s.layer_height_mm = better_height(contenders, context);
  } else {
    s.window_s = {ends.from_s, ends.to_s};
    s.exposure_s = middle_of(ends);
  }
  s.outside_range = s.exposure_s < model.valid_from_s || s.exposure_s > model.valid_to_s;
  s.base_s = base_exposure(s.exposure_s, context.base_readings);
  s.changes = needed_changes(contenders, context, s.exposure_s);
  s.text = suggestion_text(s, found, context.risk.exposure_s);
  for (const double exposure_s : sweep_times(context.sweep, model)) s.sweep.push_back(sweep_point(found, exposure_s));
  add_levers(found, context, s);
  return s;
}

}  // namespace hairline
