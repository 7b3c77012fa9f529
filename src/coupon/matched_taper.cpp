#include "matched_taper.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace hairline {
namespace {

struct Frame {
  PointMm origin, along, aside;
  PointMm at(double a, double s) const {
    return {origin.x + along.x * a + aside.x * s, origin.y + along.y * a + aside.y * s};
  }
};

Frame frame_of(const CouponWedge& w) {
  const double length = w.length_mm();
  const PointMm u{(w.thin_end.x - w.thick_end.x) / length, (w.thin_end.y - w.thick_end.y) / length};
  return {w.thick_end, u, {-u.y, u.x}};
}

}  // namespace

OutlineMm taper_prism(const CouponWedge& wedge, double beyond_mm) {
  const Frame f = frame_of(wedge);
  const double half = wedge.thick_width_mm / 2;
  return {f.at(-beyond_mm, -half), f.at(0, -half), wedge.thin_end, f.at(0, half), f.at(-beyond_mm, half)};
}

double matched_width_mm(double width_mm, double pitch_mm, double nominal_blur_mm) {
  // Between two odd numbers of pixels the light in the middle is a straight line in the grey of the outer pixels.
  const auto light = [&](double w) { return std::erf(w / (2 * std::numbers::sqrt2 * nominal_blur_mm)); };
  const double pixels = width_mm / pitch_mm;
  if (pixels >= 5) return width_mm;
  const double lower = pixels < 1 ? 0 : pixels < 3 ? 1 : 3, upper = pixels < 1 ? 1 : lower + 2;
  const double below = light(lower * pitch_mm), above = light(upper * pitch_mm);
  if (!(above - below > 1e-9)) return width_mm;
  return pitch_mm * (lower + (upper - lower) * (light(width_mm) - below) / (above - below));
}

double matched_even_width_mm(double width_mm, double pitch_mm, double nominal_blur_mm) {
  const auto light = [&](double w) { return std::erf(w / (2 * std::numbers::sqrt2 * nominal_blur_mm)); };
  // Half a pixel beside the middle of an even number of pixels.
  const auto beside = [&](int pixels) {
    return pixels == 0 ? 0.0 : (light((pixels + 1) * pitch_mm) + light((pixels - 1) * pitch_mm)) / 2;
  };
  const double wanted = light(width_mm);
  double drawn = 0;
  for (int lower = 0; lower < 6 && drawn == 0; lower += 2) {
    const double below = beside(lower), above = beside(lower + 2);
    if (wanted <= above && above - below > 1e-9) drawn = pitch_mm * (lower + 2 * (wanted - below) / (above - below));
  }
  // Never narrower, at most one pixel wider, and as meant from five pixels on.
  return std::clamp(drawn, width_mm, width_mm + pitch_mm * std::clamp(5 - width_mm / pitch_mm, 0.0, 1.0));
}

double matched_slanted_width_mm(double width_mm, double pitch_mm, double nominal_blur_mm) {
  const double growth = std::sqrt(1 + pitch_mm * pitch_mm / (6 * nominal_blur_mm * nominal_blur_mm)) - 1;
  const double fade = std::clamp((7 - width_mm / nominal_blur_mm) / 3, 0.0, 1.0);
  return width_mm * (1 + growth * fade);
}

OutlineMm matched_taper(const CouponWedge& wedge, double beyond_mm, Pitch pitch, double nominal_blur_mm) {
  const Frame f = frame_of(wedge);
  const double length = wedge.length_mm(), thick = wedge.thick_width_mm;
  const double across = std::hypot(pitch.x_mm * f.aside.x, pitch.y_mm * f.aside.y);
  const auto drawn = [&](double w) {
    if (wedge.direction == WedgeDirection::slanted) return matched_slanted_width_mm(w, across, nominal_blur_mm);
    if (wedge.kind == WedgeKind::wall) return matched_width_mm(w, across, nominal_blur_mm);
    // Off by least over blurs of 0.75 to 1.25 times the nominal one, the model's 3 blurs of neighbourhood included.
    return matched_even_width_mm(w, across, 1.1 * nominal_blur_mm);
  };
  std::vector<double> widths;  // from thick to thin; the borders between odd numbers of pixels are among them
  constexpr int per_pixel = 20;
  const int finest = static_cast<int>(std::ceil(thick / across * per_pixel));
  for (int i = finest - 1; i > 0; --i) widths.push_back(i * across / per_pixel);
  OutlineMm outline{f.at(-beyond_mm, -drawn(thick) / 2), f.at(0, -drawn(thick) / 2)};
  for (const double w : widths) outline.push_back(f.at(length * (1 - w / thick), -drawn(w) / 2));
  outline.push_back(wedge.thin_end);
  std::reverse(widths.begin(), widths.end());
  for (const double w : widths) outline.push_back(f.at(length * (1 - w / thick), drawn(w) / 2));
  outline.push_back(f.at(0, drawn(thick) / 2));
  outline.push_back(f.at(-beyond_mm, drawn(thick) / 2));
  return outline;
}

}  // namespace hairline
