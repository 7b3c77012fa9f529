// Printed sizes by bisection: light falls from the middle of a wall or pin outwards. A pin's light is summed over
// strips across the blur, x = R sin(angle), which takes the square root's end out of the integral (Simpson's rule).
#include "hairline/growth.hpp"

#include <algorithm>
#include <boost/math/constants/constants.hpp>
#include <cmath>

namespace hairline {
namespace {

constexpr double pi = boost::math::constants::pi<double>();
const double root_two = std::sqrt(2.0);
constexpr double exact_to_mm = 1e-6;

bool is_lorentzian(const CureModel& model) {
  return model.blur_shape == BlurShape::lorentzian;
}

// Share of the line spread of the blur that lies left of x.
double spread_below(const CureModel& model, double x_mm) {
  if (is_lorentzian(model)) return 0.5 + std::atan(x_mm / model.blur_mm) / pi;
  return 0.5 * std::erfc(-x_mm / (root_two * model.blur_mm));
}

// Light per mm of width from a strip that lies `away_mm` off and reaches `half_mm` to both sides.
double strip_light(const CureModel& model, double away_mm, double half_mm) {
  const double s = model.blur_mm;
  if (is_lorentzian(model)) {
    const double far2 = s * s + away_mm * away_mm;
    return s * half_mm / (pi * far2 * std::sqrt(far2 + half_mm * half_mm));
  }
  return std::exp(-away_mm * away_mm / (2 * s * s)) / (s * std::sqrt(2 * pi)) * std::erf(half_mm / (root_two * s));
}

using LightAt = double (*)(const CureModel&, double size_mm, double away_mm);

// Twice the distance from the middle at which the light has fallen to `share`, which lies below that of the middle.
double width_at_share(const CureModel& model, LightAt light_at, double size_mm, double share) {
  double inside = 0, outside = size_mm / 2 + model.blur_mm;
  while (light_at(model, size_mm, outside) > share) {
    inside = outside;
    outside *= 2;
  }
  while (outside - inside > exact_to_mm) {
    const double middle = (inside + outside) / 2;
    (light_at(model, size_mm, middle) > share ? inside : outside) = middle;
  }
  return inside + outside;
}

struct Times {
  double height_mm, exposure_s;
};

std::optional<double> printed_solid_mm(const CureModel& model, Times times, LightAt light_at, double size_mm) {
  const double share = edge_share(model, times.height_mm, times.exposure_s), middle = light_at(model, size_mm, 0);
  if (middle <= share || times.exposure_s * middle < bond_time_s(model, times.height_mm)) return std::nullopt;
  return width_at_share(model, light_at, size_mm, share);
}

std::optional<double> printed_gap_mm(const CureModel& model, Times times, LightAt light_at, double size_mm) {
  const double dark = 1 - edge_share(model, times.height_mm, times.exposure_s);
  if (dark <= 0 || light_at(model, size_mm, 0) <= dark) return std::nullopt;
  return width_at_share(model, light_at, size_mm, dark);
}

}  // namespace

double edge_share(const CureModel& model, double height_mm, double exposure_s) {
  const double settled = -std::expm1(-height_mm / model.penetration_depth_mm);
  return fuse_threshold_s(model, height_mm) * settled / exposure_s;
}

std::optional<double> growth_mm(const CureModel& model, double height_mm, double exposure_s) {
  const double share = edge_share(model, height_mm, exposure_s);
  if (!(share > 0 && share < 1)) return std::nullopt;
  return edge_mm(model, share);
}

double wall_light_at(const CureModel& model, double size_mm, double away_mm) {
  return spread_below(model, size_mm / 2 - away_mm) - spread_below(model, -size_mm / 2 - away_mm);
}

double pin_light_at(const CureModel& model, double size_mm, double away_mm) {
  const double radius_mm = size_mm / 2;
  const int steps = 2 * static_cast<int>(std::clamp(24 + 12 * radius_mm / model.blur_mm, 24.0, 4000.0));
  double sum = 0;
  for (int i = 1; i < steps; ++i) {  // the strips at both ends have no length
    const double angle = pi * i / steps - pi / 2, half_mm = radius_mm * std::cos(angle);
    sum += (i % 2 == 1 ? 4 : 2) * strip_light(model, radius_mm * std::sin(angle) - away_mm, half_mm) * half_mm;
  }
  return sum * pi / steps / 3;
}

std::optional<double> printed_wall_mm(const CureModel& model, double height_mm, double exposure_s, double size_mm) {
  return printed_solid_mm(model, {height_mm, exposure_s}, wall_light_at, size_mm);
}

std::optional<double> printed_slot_mm(const CureModel& model, double height_mm, double exposure_s, double size_mm) {
  return printed_gap_mm(model, {height_mm, exposure_s}, wall_light_at, size_mm);
}

std::optional<double> printed_pin_mm(const CureModel& model, double height_mm, double exposure_s, double size_mm) {
  return printed_solid_mm(model, {height_mm, exposure_s}, pin_light_at, size_mm);
}

std::optional<double> printed_hole_mm(const CureModel& model, double height_mm, double exposure_s, double size_mm) {
  return printed_gap_mm(model, {height_mm, exposure_s}, pin_light_at, size_mm);
}

void add_printed_sizes(const CureModel& model, double height_mm, double exposure_s, Growth& growth) {
  growth.normal_mm = growth_mm(model, height_mm, exposure_s);
  for (WidthGrowth& width : growth.widths) {
    width.wall_mm = printed_wall_mm(model, height_mm, exposure_s, width.drawn_mm);
    width.slot_mm = printed_slot_mm(model, height_mm, exposure_s, width.drawn_mm);
    width.pin_mm = printed_pin_mm(model, height_mm, exposure_s, width.drawn_mm);
    width.hole_mm = printed_hole_mm(model, height_mm, exposure_s, width.drawn_mm);
  }
}

}  // namespace hairline
