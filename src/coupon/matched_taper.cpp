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

// Whole numbers of pixels, symmetric around the axis, between which a width lies.
struct PixelSpan {
  int lower, upper;
};

PixelSpan span_of(double pixels, PixelAxis axis) {
  const int lower = 2 * static_cast<int>(axis == PixelAxis::border ? pixels / 2 : (pixels + 1) / 2);
  if (axis == PixelAxis::border) return {lower, lower + 2};
  return {std::max(0, lower - 1), lower + 1};
}

// In the middle of a wall (what a slot misses there).
double light(double width_mm, double blur_mm) {
  return std::erf(width_mm / (2 * std::numbers::sqrt2 * blur_mm));
}

// The same in the pixel of the middle, or in the two beside it where the pixels are even in number.
double light(int pixels, double pitch_mm, double blur_mm) {
  if (pixels % 2 == 1 || pixels == 0) return light(pixels * pitch_mm, blur_mm);
  return (light((pixels + 1) * pitch_mm, blur_mm) + light((pixels - 1) * pitch_mm, blur_mm)) / 2;
}

// 1 up to 4 blurs, 0 from 5.2 on, where the middle is full (empty) whatever the sides are.
double share_of_thin(double width_mm, double blur_mm) {
  return std::clamp((5.2 - width_mm / blur_mm) / 1.2, 0.0, 1.0);
}

// The blur to match, as a multiple of the nominal one: by a scan for the least worst error over records of many blurs
// (docs/exposure.md). Walls have their teeth for little blur, so they match much. Limits of slots lie at 1.7 to 3.3
// blurs at usual times (fuse time / time 0.4 to 0.1), so a wide slot is the limit of much blur only.
double blur_for(const CouponWedge& wedge, double width_mm, double nominal_blur_mm) {
  const bool wall = wedge.kind == WedgeKind::wall;
  if (wedge.direction == WedgeDirection::slanted) return (wall ? 0.94 : 1.09) * nominal_blur_mm;
  if (wall) return 1.55 * nominal_blur_mm;
  return std::clamp(width_mm / 2.54, 1.1 * nominal_blur_mm, 1.39 * nominal_blur_mm);
}

}  // namespace

OutlineMm taper_prism(const CouponWedge& wedge, double beyond_mm) {
  const Frame f = frame_of(wedge);
  const double half = wedge.thick_width_mm / 2;
  return {f.at(-beyond_mm, -half), f.at(0, -half), wedge.thin_end, f.at(0, half), f.at(-beyond_mm, half)};
}

double matched_width_mm(double width_mm, double pitch_mm, double nominal_blur_mm, PixelAxis axis) {
  // Between two whole numbers of pixels the light is a straight line in the grey of the outer pixels.
  const double wanted = light(width_mm, nominal_blur_mm);
  PixelSpan span = span_of(0, axis);
  while (span.upper * pitch_mm < width_mm + 2 * pitch_mm && wanted > light(span.upper, pitch_mm, nominal_blur_mm)) {
    span = span_of(span.upper, axis);
  }
  const double below = light(span.lower, pitch_mm, nominal_blur_mm),
               above = light(span.upper, pitch_mm, nominal_blur_mm);
  if (!(above - below > 1e-9)) return width_mm;
  const double grey = std::clamp((wanted - below) / (above - below), 0.0, 1.0);
  const double matched = pitch_mm * (span.lower + (span.upper - span.lower) * grey);
  return width_mm + (matched - width_mm) * share_of_thin(width_mm, nominal_blur_mm);
}

double toothed_width_mm(double width_mm, double pitch_mm, WedgeKind kind, std::uint32_t pixel) {
  const PixelSpan span = span_of(width_mm / pitch_mm, kind == WedgeKind::wall ? PixelAxis::middle : PixelAxis::border);
  const double pixels = span.upper - span.lower, grey = (width_mm / pitch_mm - span.lower) / pixels;
  const std::uint32_t period = kind == WedgeKind::wall ? 3 : 2;
  const double between = 1.0 / (period - 1);  // what these lose where a wide place gains 1
  double room = span.lower > 2 ? 0 : std::min(grey / between, 1 - grey);
  if (kind == WedgeKind::wall) {
    if (span.lower == 0) room = 0;  // under one pixel teeth would leave dots
  } else {
    // The outer pixels of a slot stay solid up to half grey. A third empty pixel all along would no longer be a narrow
    // gap: so wide places keep them solid while the mean is, and those between keep theirs for longer. In a slot under
    // two pixels the places between must not become solid.
    constexpr double half = 0.49;
    if (span.lower == 0) room = std::clamp(grey - half, 0.0, room);
    if (span.lower == 2 && grey < half) room = std::min(room, half - grey);
  }
  return width_mm + (pixel % period == 0 ? 1 : -between) * room * pixels * pitch_mm;
}

double matched_slanted_width_mm(double width_mm, double pitch_mm, double nominal_blur_mm) {
  const double growth = std::sqrt(1 + pitch_mm * pitch_mm / (6 * nominal_blur_mm * nominal_blur_mm)) - 1;
  return width_mm * (1 + growth * share_of_thin(width_mm, nominal_blur_mm));
}

OutlineMm matched_taper(const CouponWedge& wedge, double beyond_mm, Pitch pitch, double nominal_blur_mm) {
  const Frame f = frame_of(wedge);
  const bool slanted = wedge.direction == WedgeDirection::slanted;
  const double across = std::hypot(pitch.x_mm * f.aside.x, pitch.y_mm * f.aside.y);
  const double along = slanted ? across : std::hypot(pitch.x_mm * f.along.x, pitch.y_mm * f.along.y);
  const double start = slanted ? 0 : f.origin.x * f.along.x + f.origin.y * f.along.y;
  const double length = wedge.length_mm();
  const auto half_width = [&](double place, std::uint32_t pixel) {
    const double w = wedge.thick_width_mm * std::clamp(1 - place / length, 0.0, 1.0);
    const double blur = blur_for(wedge, w, nominal_blur_mm);
    if (slanted) return matched_slanted_width_mm(w, across, blur) / 2;
    const PixelAxis axis = wedge.kind == WedgeKind::wall ? PixelAxis::middle : PixelAxis::border;
    return toothed_width_mm(matched_width_mm(w, across, blur, axis), across, wedge.kind, pixel) / 2;
  };
  OutlineMm near, far;  // the two sides, from thick to thin
  const auto add = [&](double place, double half) {
    near.push_back(f.at(place, -half));
    far.push_back(f.at(place, half));
  };
  add(-beyond_mm, half_width(0, 0));
  for (auto pixel = static_cast<std::uint32_t>(start / along + 1e-6); pixel * along - start < length; ++pixel) {
    const double from = std::max(0.0, pixel * along - start), to = std::min(length, (pixel + 1) * along - start);
    if (to <= from) continue;
    if (slanted) {
      add(from, half_width(from, 0));
    } else {
      const double half = half_width((from + to) / 2, pixel);
      add(from, half);
      add(to, half);
    }
  }
  near.push_back(wedge.thin_end);
  near.insert(near.end(), far.rbegin(), far.rend());
  return near;
}

}  // namespace hairline
