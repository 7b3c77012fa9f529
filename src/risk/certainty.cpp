#include <algorithm>
#include <cmath>

#include "critical_bins.hpp"
#include "hairline/risk.hpp"
#include "normal.hpp"

namespace hairline {
namespace {

double normal_cdf(double x) {
  return 0.5 * std::erfc(-x / std::sqrt(2.0));
}

// d ln(1 - exp(-h/Dp)) / d ln(Dp): how the share of light that settles in a tall place follows the penetration depth.
double settling_slope(double height_mm, double depth_mm) {
  const double a = std::exp(-height_mm / depth_mm);
  return -a * height_mm / depth_mm / (1 - a);
}

}  // namespace

double Certainty::log_sd(Fate fate, double blur_slope, double depth_slope) const {
  double variance = dose_spread * dose_spread;
  if (covariance) {
    const LogCovariance& v = *covariance;
    const std::size_t time = fate == Fate::vanish ? 0 : 1;  // its slope is 1, that of the other time 0
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

double chance(Fate fate, double critical_s, double exposure_s, double log_sd) {
  const double beyond = fate == Fate::vanish ? std::log(critical_s / exposure_s) : std::log(exposure_s / critical_s);
  if (log_sd <= 0) return beyond > 0 ? 1 : beyond < 0 ? 0 : 0.5;
  return normal_cdf(beyond / log_sd);
}

namespace {

// The widest spread any voxel can have: the steepest slopes that walls, pins, slots and flat gaps of interest reach.
// (The slope of light in blur lies between that of a pin and that of a hole of equal light: docs/exposure.md.)
double widest_log_sd(const Certainty& certainty, Fate fate) {
  double widest = 0;
  for (const double blur_slope : {0.0, fate == Fate::vanish ? 2.0 : -6.0}) {
    for (const double depth_slope : {0.0, fate == Fate::vanish ? 0.0 : -4.0}) {
      widest = std::max(widest, certainty.log_sd(fate, blur_slope, depth_slope));
    }
  }
  return widest;
}

}  // namespace

double risk::normal_quantile(double chance) {  // by bisection: called a few times a job
  double low = -10, high = 10;
  for (int i = 0; i < 80; ++i) {
    const double z = 0.5 * (low + high);
    (normal_cdf(z) < chance ? low : high) = z;
  }
  return 0.5 * (low + high);
}

Certainty certainty_of(const RiskContext& context) {
  return {context.model.log_covariance, context.settings.dose_spread, context.model.penetration_depth_mm,
          context.model.layer_height_mm};
}

ExposureSettings critical_range(const RiskContext& context) {
  const Certainty certainty = certainty_of(context);
  const double z = risk::normal_quantile(context.settings.least_chance);  // negative for chances under one half
  ExposureSettings range;
  range.normal_s = context.exposure_s;
  const double vanish_at = context.exposure_s * std::exp(z * widest_log_sd(certainty, Fate::vanish));
  const double fuse_at = context.exposure_s * std::exp(-z * widest_log_sd(certainty, Fate::fuse));
  range.vanish_from_s = std::min(vanish_at, context.range_from_s);
  range.fuse_to_s = std::max(fuse_at, context.range_to_s);
  range.slopes = context.model.log_covariance.has_value();
  return range;
}

double LossCurve::above_mm3(double exposure_s) const {
  const std::int32_t from = risk::bin_of(std::log(exposure_s), risk::loss_bins);
  double volume = 0;
  for (const auto& [bin, mm3] : bins) {
    if (bin > from) volume += mm3;
  }
  return volume;
}

double LossCurve::up_to_mm3(double exposure_s) const {
  const std::int32_t to = risk::bin_of(std::log(exposure_s), risk::loss_bins);
  double volume = 0;
  for (const auto& [bin, mm3] : bins) {
    if (bin <= to) volume += mm3;
  }
  return volume;
}

}  // namespace hairline
