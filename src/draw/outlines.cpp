#include <algorithm>
#include <cmath>
#include <numbers>

#include "hairline/draw.hpp"

namespace hairline {
namespace {

constexpr double disc_error_mm = 5e-5;  // farthest a disc's outline lies from the circle

/// Radius of the regular polygon with the area of a circle of radius 1.
double equal_area_radius(unsigned corners) {
  const double angle = 2 * std::numbers::pi / corners;
  return std::sqrt(angle / std::sin(angle));
}

}  // namespace

OutlineMm box_outline(PointMm from, PointMm to) {
  return {from, {to.x, from.y}, to, {from.x, to.y}};
}

OutlineMm polygon_outline(PointMm centre, double diameter_mm, unsigned corners) {
  const double radius = diameter_mm / 2 * equal_area_radius(corners);
  OutlineMm outline(corners);
  if (corners % 8 != 0) {
    for (unsigned i = 0; i < corners; ++i) {
      const double angle = 2 * std::numbers::pi * i / corners;
      outline[i] = {centre.x + radius * std::cos(angle), centre.y + radius * std::sin(angle)};
    }
    return outline;
  }
  // One eighth is computed and mirrored, so that the disc is symmetric to the last bit.
  const unsigned quarter = corners / 4;
  for (unsigned i = 0; i <= quarter / 2; ++i) {
    const double angle = 2 * std::numbers::pi * i / corners;
    const double c = i * 2 == quarter ? radius * std::numbers::sqrt2 / 2 : radius * std::cos(angle);
    const double s = i * 2 == quarter ? c : i == 0 ? 0 : radius * std::sin(angle);
    const auto put = [&](unsigned at, double x, double y) { outline[at % corners] = {centre.x + x, centre.y + y}; };
    put(i, c, s);
    put(quarter - i, s, c);
    put(quarter + i, -s, c);
    put(2 * quarter - i, -c, s);
    put(2 * quarter + i, -c, -s);
    put(3 * quarter - i, -s, -c);
    put(3 * quarter + i, s, -c);
    put(4 * quarter - i, c, -s);
  }
  return outline;
}

OutlineMm disc_outline(PointMm centre, double diameter_mm) {
  if (!(diameter_mm > 0)) return {};
  const double needed = std::numbers::pi / std::sqrt(2 * disc_error_mm / (diameter_mm / 2));
  const auto eighths = static_cast<unsigned>(std::clamp(std::ceil(needed / 8), 2.0, 1000.0));
  return polygon_outline(centre, diameter_mm, 8 * eighths);
}

OutlineMm taper_outline(PointMm from, double from_width_mm, PointMm to, double to_width_mm) {
  const double dx = to.x - from.x, dy = to.y - from.y, length = std::hypot(dx, dy);
  if (!(length > 0)) return {};
  const double nx = -dy / length, ny = dx / length;
  const double a = from_width_mm / 2, b = to_width_mm / 2;
  return {{from.x + nx * a, from.y + ny * a},
          {from.x - nx * a, from.y - ny * a},
          {to.x - nx * b, to.y - ny * b},
          {to.x + nx * b, to.y + ny * b}};
}

OutlineMm bar_outline(PointMm from, PointMm to, double width_mm) {
  return taper_outline(from, width_mm, to, width_mm);
}

OutlineMm moved(const OutlineMm& outline, PointMm by) {
  OutlineMm result = outline;
  for (PointMm& p : result) p = {p.x + by.x, p.y + by.y};
  return result;
}

double signed_area_mm2(const OutlineMm& outline) {
  double twice = 0;
  for (std::size_t i = 0, j = outline.size() - 1; i < outline.size(); j = i++) {
    twice += outline[j].x * outline[i].y - outline[i].x * outline[j].y;
  }
  return twice / 2;
}

}  // namespace hairline
