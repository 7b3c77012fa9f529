#include "certainty.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "../base/normal.hpp"

namespace hairline {
namespace {

// d ln(1 - exp(-h/Dp)) / d ln(Dp): how the share of light that settles in a tall place follows the penetration depth.
double settling_slope(double height_mm, double depth_mm) {
  const double a = std::exp(-height_mm / depth_mm);
  return -a * height_mm / depth_mm / (1 - a);
}

}  // namespace

double Certainty::log_sd(Fate fate, double blur_slope, double depth_slope, bool flat) const {
  double variance = dose_spread * dose_spread;
  if (covariance) {
    const LogCovariance& v = *covariance;
    const std::size_t time = fate == Fate::vanish ? 0
                             : flat && flat_time  ? 4
                                                  : 1;  // its slope is 1, those of the others 0
    variance += v[time][time] + blur_slope * (2 * v[time][2] + blur_slope * v[2][2]) +
                depth_slope * (2 * (v[time][3] + blur_slope * v[2][3]) + depth_slope * v[3][3]);
  }
  return std::sqrt(std::max(variance, 0.0));
}

double Certainty::height_slope(Fate fate, double height_mm) const {
  const double steps = (height_mm - record_height_mm) / penetration_depth_mm;
  if (fate == Fate::vanish) return -steps;
  return -steps / 2 + settling_slope(height_mm, penetration_depth_mm) -
         settling_slope(record_height_mm, penetration_depth_mm);
}

// Curvatures are fits of ours to the closed forms of walls, square pins, slots and holes (docs/exposure.md, "Chance").
Bend Certainty::bend(Fate fate, double blur_slope, double log_excess, double log_sd) const {
  if (!covariance || (*covariance)[2][2] <= 0 || log_sd <= 0 || log_excess <= 0) return {};
  const LogCovariance& v = *covariance;
  const double slope = std::abs(blur_slope), steepness = slope / log_excess;
  const double curvature =
      fate == Fate::vanish ? 0.78 * slope * std::max(0.0, steepness - 0.8) : slope * std::min(steepness, 2.0);
  const double with_blur = blur_slope * v[2][2] + v[fate == Fate::vanish ? 0 : 1][2];
  return {0.5 * curvature * v[2][2], std::min(1.0, with_blur * with_blur / (v[2][2] * log_sd * log_sd))};
}

// The first term of Edgeworth's series (Cramer 1946, from memory) beside the normal law: mean, variance and third
// cumulant of a quadratic form in normal variables.
double chance(Fate fate, double critical_s, double exposure_s, double log_sd, const Bend& bend) {
  const double beyond = std::log(critical_s / exposure_s) + bend.shift;
  const double sd = std::sqrt(log_sd * log_sd + 2 * bend.shift * bend.shift);
  const double way = fate == Fate::vanish ? 1 : -1;
  if (sd <= 0) return way * beyond > 0 ? 1 : way * beyond < 0 ? 0 : 0.5;
  const double z = beyond / sd, skew = bend.shift * bend.share * log_sd * log_sd / (sd * sd * sd);
  const double density = std::exp(-z * z / 2) / std::sqrt(2 * std::numbers::pi);
  return std::clamp(normal_cdf(way * z) + way * skew * density * (z * z - 1), 0.0, 1.0);
}

namespace {

// The widest spread of anything that vanishes: light in a pin follows blur most, by its square (docs/exposure.md).
double widest_vanish_sd(const Certainty& certainty) {
  return std::max(certainty.log_sd(Fate::vanish, 0, 0), certainty.log_sd(Fate::vanish, 2, 0));
}

// The least critical exposure of a wide place over the normal layers.
double least_wide_s(const RiskContext& context, Fate fate) {
  double least = INFINITY;
  for (const PrintedLayer& printed : context.layers)
    if (printed.kind == LayerKind::normal) least = std::min(least, wide_critical_s(context.model, printed, fate));
  return least;
}

// The critical exposure farthest from `time_s`, downwards or upwards, at which something still has the least chance
// there, by the spread that it has at most (docs/exposure.md, "Chance").
double farthest_s(double time_s, bool down, double z, auto widest_sd) {
  const double step = down ? 1 / 1.002 : 1.002;
  double critical_s = time_s * step;
  for (int i = 0; i < 3000 && std::abs(std::log(critical_s / time_s)) <= z * widest_sd(critical_s); ++i)
    critical_s *= step;
  return critical_s;
}

// Light in a wall or pin follows blur at most as in a pin of equal light: the more the fainter it is.
double least_vanish_s(const RiskContext& context, const Certainty& certainty, double time_s, double z) {
  const double bond_s = least_wide_s(context, Fate::vanish);
  return farthest_s(time_s, true, z, [&](double critical_s) {
    const double v = -std::log1p(-std::min(bond_s / critical_s, 1 - 1e-9));
    const double slope = 2 * v / std::expm1(v);
    return std::max(certainty.log_sd(Fate::vanish, 0, 0), certainty.log_sd(Fate::vanish, slope, 0));
  });
}

// In an upright gap it follows blur at most as in a round hole of equal light: the more the brighter that has to get.
double greatest_fuse_s(const RiskContext& context, const Certainty& certainty, double time_s, double z) {
  const double fuse_s = least_wide_s(context, Fate::fuse);
  const double flat = std::max({certainty.log_sd(Fate::fuse, 0, -4, true), certainty.log_sd(Fate::fuse, 0, 0, true),
                                certainty.log_sd(Fate::fuse, 0, 0)});
  return farthest_s(time_s, false, z, [&](double critical_s) {
    const double slope = -2 * std::max(0.0, std::log(critical_s / fuse_s));
    return std::max(flat, certainty.log_sd(Fate::fuse, slope, 0));
  });
}

}  // namespace

double wide_critical_s(const CureModel& model, const PrintedLayer& printed, Fate fate) {
  const double factor = printed.kind == LayerKind::normal ? printed.factor : 1;
  if (fate == Fate::vanish) return bond_time_s(model, printed.height_mm) / factor;
  return fuse_threshold_s(model, printed.height_mm) * (1 - attenuation(model, printed.height_mm)) / factor;
}

Certainty certainty_of(const RiskContext& context) {
  return {context.model.log_covariance, context.settings.dose_spread, context.model.penetration_depth_mm,
          context.model.layer_height_mm, context.model.flat_time_s.has_value()};
}

ExposureSettings critical_range(const RiskContext& context) {
  const Certainty certainty = certainty_of(context);
  const double z = std::max(0.0, -normal_quantile(context.settings.least_chance));
  const double first_s = context.times_s.front(), last_s = context.times_s.back();
  ExposureSettings range;
  range.normal_s = context.exposure_s;
  range.base_share = std::exp(-z * widest_vanish_sd(certainty));
  range.vanish_from_s = least_vanish_s(context, certainty, first_s, z);
  range.fuse_to_s = greatest_fuse_s(context, certainty, last_s, z);
  range.base_from_s = first_s;
  range.slopes = context.model.log_covariance.has_value();
  return range;
}

double bulk_chance(const RiskContext& context, double height_mm, double time_s) {
  Certainty certainty = certainty_of(context);
  const double at_record_s = time_s * context.model.bond_time_s / bond_time_s(context.model, height_mm);
  if (certainty.covariance && context.stood_s && at_record_s >= *context.stood_s * (1 - 1e-9)) {
    for (std::size_t i = 0; i < certainty.covariance->size(); ++i)
      (*certainty.covariance)[0][i] = (*certainty.covariance)[i][0] = 0;
  }
  const double log_sd = certainty.log_sd(Fate::vanish, 0, certainty.height_slope(Fate::vanish, height_mm));
  return chance(Fate::vanish, bond_time_s(context.model, height_mm), time_s, log_sd);
}

double sure_bond_s(const RiskContext& context, double height_mm) {
  double low_s = bond_time_s(context.model, height_mm), high_s = 100 * low_s;
  for (int i = 0; i < 60; ++i) {
    const double middle_s = std::sqrt(low_s * high_s);
    (bulk_chance(context, height_mm, middle_s) < sure_bulk_chance ? high_s : low_s) = middle_s;
  }
  return high_s;
}

}  // namespace hairline
