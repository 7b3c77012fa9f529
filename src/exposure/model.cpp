// Closed forms of docs/exposure.md. Walls and slots are bars of light through the line spread of the blur, pins and
// holes are discs through its point spread; each limit is the inverse of the matching light function at the threshold
// share.
#include "hairline/model.hpp"

#include <boost/math/constants/constants.hpp>
#include <boost/math/special_functions/erf.hpp>
#include <cmath>
#include <limits>

#include "../base/thresholds.hpp"

namespace hairline {
namespace {

constexpr double pi = boost::math::constants::pi<double>();
const double two_root_two = 2 * std::sqrt(2.0);
constexpr double infinite = std::numeric_limits<double>::infinity();

// Errors of Boost.Math (out of domain, overflow) become infinities instead of exceptions.
using quiet =
    boost::math::policies::policy<boost::math::policies::domain_error<boost::math::policies::ignore_error>,
                                  boost::math::policies::pole_error<boost::math::policies::ignore_error>,
                                  boost::math::policies::overflow_error<boost::math::policies::ignore_error>,
                                  boost::math::policies::underflow_error<boost::math::policies::ignore_error>,
                                  boost::math::policies::evaluation_error<boost::math::policies::ignore_error>>;

bool is_lorentzian(const CureModel& model) {
  return model.blur_shape == BlurShape::lorentzian;
}

// Width of the bar whose middle gets the share `light` (0..1) of full light; `dark` = 1 - light, given apart because
// one of the two is exact where the other has lost its digits.
double bar_width_mm(const CureModel& model, double light, double dark) {
  if (is_lorentzian(model)) {
    return 2 * model.blur_mm * (light < 0.5 ? std::tan(pi / 2 * light) : 1 / std::tan(pi / 2 * dark));
  }
  const double argument = light < 0.5 ? boost::math::erf_inv(light, quiet()) : boost::math::erfc_inv(dark, quiet());
  return two_root_two * model.blur_mm * argument;
}

// Diameter of the disc of light whose middle stays dark by the share `dark` (0..1).
double disc_diameter_mm(const CureModel& model, double dark) {
  if (is_lorentzian(model)) return 2 * model.blur_mm * std::sqrt(1 / (dark * dark) - 1);
  return model.blur_mm * std::sqrt(-8 * std::log(dark));
}

double flat_time_of(const CureModel& model) {
  return model.flat_time_s.value_or(model.fuse_time_s);
}

}  // namespace

bool covers(const CureModel& model, double exposure_s) {
  return at_least(exposure_s, model.valid_from_s) && !over(exposure_s, model.valid_to_s);
}

double attenuation(const CureModel& model, double height_mm) {
  return std::exp(-height_mm / model.penetration_depth_mm);
}

double bond_time_s(const CureModel& model, double height_mm) {
  return model.bond_time_s * std::exp((height_mm - model.layer_height_mm) / model.penetration_depth_mm);
}

double fuse_time_s(const CureModel& model, double height_mm) {
  return model.fuse_time_s * std::exp((height_mm - model.layer_height_mm) / (2 * model.penetration_depth_mm));
}

double fuse_threshold_s(const CureModel& model, double height_mm) {
  return fuse_time_s(model, height_mm) / -std::expm1(-model.layer_height_mm / model.penetration_depth_mm);
}

double flat_threshold_s(const CureModel& model, double height_mm) {
  return fuse_threshold_s(model, height_mm) * (flat_time_of(model) / model.fuse_time_s);
}

double wall_light(const CureModel& model, double size_mm) {
  if (size_mm <= 0) return 0;
  if (is_lorentzian(model)) return 2 / pi * std::atan(size_mm / (2 * model.blur_mm));
  return std::erf(size_mm / (two_root_two * model.blur_mm));
}

double slot_light(const CureModel& model, double size_mm) {
  if (size_mm <= 0) return 1;
  if (is_lorentzian(model)) return 2 / pi * std::atan(2 * model.blur_mm / size_mm);
  return std::erfc(size_mm / (two_root_two * model.blur_mm));
}

double pin_light(const CureModel& model, double size_mm) {
  if (size_mm <= 0) return 0;
  if (is_lorentzian(model)) return 1 - hole_light(model, size_mm);
  return -std::expm1(-size_mm * size_mm / (8 * model.blur_mm * model.blur_mm));
}

double hole_light(const CureModel& model, double size_mm) {
  if (size_mm <= 0) return 1;
  if (is_lorentzian(model)) return model.blur_mm / std::hypot(model.blur_mm, size_mm / 2);
  return std::exp(-size_mm * size_mm / (8 * model.blur_mm * model.blur_mm));
}

double wall_limit_mm(const CureModel& model, double exposure_s) {
  if (!(exposure_s > model.bond_time_s)) return infinite;
  return bar_width_mm(model, model.bond_time_s / exposure_s, (exposure_s - model.bond_time_s) / exposure_s);
}

double slot_limit_mm(const CureModel& model, double exposure_s) {
  if (!(exposure_s > model.fuse_time_s)) return 0;
  return bar_width_mm(model, (exposure_s - model.fuse_time_s) / exposure_s, model.fuse_time_s / exposure_s);
}

double pin_limit_mm(const CureModel& model, double exposure_s) {
  if (!(exposure_s > model.bond_time_s)) return infinite;
  return disc_diameter_mm(model, (exposure_s - model.bond_time_s) / exposure_s);
}

double hole_limit_mm(const CureModel& model, double exposure_s) {
  if (!(exposure_s > model.fuse_time_s)) return 0;
  return disc_diameter_mm(model, model.fuse_time_s / exposure_s);
}

double flat_slot_limit_mm(const CureModel& model, double exposure_s) {
  if (!(exposure_s > flat_time_of(model))) return 0;
  return model.penetration_depth_mm * std::log(exposure_s / flat_time_of(model));
}

double edge_mm(const CureModel& model, double share) {
  if (is_lorentzian(model)) return model.blur_mm / std::tan(pi * share);
  return std::sqrt(2.0) * model.blur_mm * boost::math::erfc_inv(2 * share, quiet());
}

double flare_mm(const CureModel& model, double exposure_s) {
  const double share = model.fuse_time_s / exposure_s;
  return share < 0.5 ? edge_mm(model, share) : 0;
}

}  // namespace hairline
