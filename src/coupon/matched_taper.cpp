#include "matched_taper.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <vector>

namespace hairline {
namespace {

constexpr std::uint32_t wide_every = 3;  // pixels along the wedge

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

// In the middle of a wall (what a slot misses there), and how fast it grows with width.
double light(double width_mm, double blur_mm) {
  return std::erf(width_mm / (2 * std::numbers::sqrt2 * blur_mm));
}
double light_slope(double width_mm, double blur_mm) {
  const double u = width_mm / (2 * std::numbers::sqrt2 * blur_mm);
  return std::numbers::inv_sqrtpi * std::exp(-u * u) / (std::numbers::sqrt2 * blur_mm);
}

// Part of the light in the middle of a pixel that comes from every third pixel of its row, itself among them.
double light_from_thirds(double pixel_mm, double blur_mm) {
  constexpr int step = wide_every;
  const int reach = step * static_cast<int>(std::ceil(5 * blur_mm / (step * pixel_mm)));
  double sum = 0;
  for (int k = -reach; k <= reach; k += step) {
    const double from = (k - 0.5) * pixel_mm / (std::numbers::sqrt2 * blur_mm),
                 to = (k + 0.5) * pixel_mm / (std::numbers::sqrt2 * blur_mm);
    sum += 0.5 * (std::erf(to) - std::erf(from));
  }
  return sum;
}

// Limits of walls (slots) at usual times lie between so many blurs.
struct Limits {
  double least, most;
};
Limits limits_in_blurs(WedgeKind kind) {
  return kind == WedgeKind::wall ? Limits{1.1, 3.2} : Limits{2.0, 3.0};
}

// How far the lights of what is drawn are from those of the true width, as widths.
struct Misfit {
  double least = INFINITY, most = -INFINITY;
  double worst() const { return std::max(std::abs(least), std::abs(most)); }
};

}  // namespace

// A wedge at one width and one blur.
struct TaperMatch::Sight {
  double blur_mm = 0;
  double wanted = 0;           // light in the middle
  double slope = 0;            // of that light with width
  double share = 1;            // of the light that comes from wide places
  std::vector<double> pixels;  // light of walls of so many whole pixels, every other number
};

// Between which steps may be drawn: the narrow places at least (most), the wide ones at most.
struct TaperMatch::StepBounds {
  double least_mm, widest_mm, widest_between_mm;
};

OutlineMm taper_prism(const CouponWedge& wedge, double beyond_mm) {
  const Frame f = frame_of(wedge);
  const double half = wedge.thick_width_mm / 2;
  return {f.at(-beyond_mm, -half), f.at(0, -half), wedge.thin_end, f.at(0, half), f.at(-beyond_mm, half)};
}

TaperMatch::TaperMatch(const CouponWedge& wedge, Pitch pitch, BlurRange blurs)
    : kind_(wedge.kind),
      slanted_(wedge.direction == WedgeDirection::slanted),
      blurs_(blurs),
      slope_(wedge.thick_width_mm / wedge.length_mm()) {
  const Frame f = frame_of(wedge);
  across_mm_ = std::hypot(pitch.x_mm * f.aside.x, pitch.y_mm * f.aside.y);
  along_mm_ = std::hypot(pitch.x_mm * f.along.x, pitch.y_mm * f.along.y);
}

TaperMatch::Sight TaperMatch::sight_of(double width_mm, double blur_mm) const {
  Sight sight;
  sight.blur_mm = blur_mm;
  const double judged_mm = std::max(0.0, width_mm - slope_ * judged_ahead_mm(blur_mm));
  sight.wanted = light(judged_mm, blur_mm);
  sight.slope = light_slope(judged_mm, blur_mm);
  if (slanted_) return sight;
  sight.share = light_from_thirds(along_mm_, blur_mm);
  sight.pixels.resize(static_cast<std::size_t>(width_mm / (2 * across_mm_)) + 6);  // widths drawn end 6 pixels up
  for (std::size_t i = 0; i < sight.pixels.size(); ++i) {
    const auto n = static_cast<double>(2 * i);
    // The middle of a wall runs through a row of pixels, that of a slot between two rows.
    sight.pixels[i] = kind_ == WedgeKind::wall
                          ? (i == 0 ? 0 : light((n - 1) * across_mm_, blur_mm))
                          : (light((n + 1) * across_mm_, blur_mm) + light((n - 1) * across_mm_, blur_mm)) / 2;
  }
  return sight;
}

// A place is judged by the best (darkest) pixel within 3 blurs, so by one further up the wedge: of the wide places the
// last that is reached. Pixels of a slanted wedge lie beside its middle as often as further up; in slots that counts
// for more. (Both numbers of pixels by a scan for the least worst error over all blurs and times: docs/exposure.md.)
double TaperMatch::judged_ahead_mm(double blur_mm) const {
  if (!slanted_) return std::max(0.0, 3 * blur_mm - 1.75 * along_mm_);
  return kind_ == WedgeKind::wall ? 0 : -1.2 * across_mm_;
}

// Light in the middle of what is drawn `width_mm` wide all along.
double TaperMatch::light_across(double width_mm, const Sight& sight) const {
  // A grey pixel spreads its light over its whole width, and light is taken over whole pixels: two boxes.
  if (slanted_) return light(width_mm, std::hypot(sight.blur_mm, across_mm_ / std::sqrt(6.0)));
  // Between two whole numbers of pixels the light is a straight line in the grey of the outer ones.
  const double pixels = width_mm / across_mm_;
  const double at = kind_ == WedgeKind::wall ? (pixels < 1 ? pixels : (pixels + 1) / 2) : pixels / 2;
  const double last = static_cast<double>(sight.pixels.size()) - 1;
  const double below = std::clamp(std::floor(at), 0.0, last - 1), grey = std::min(1.0, at - below);
  const auto i = static_cast<std::size_t>(below);
  return sight.pixels[i] + (sight.pixels[i + 1] - sight.pixels[i]) * grey;
}

// A wall under one pixel would become dots, a slot under one pixel solid in places; the wide places of a wall over
// three pixels would have dim corners of their own. And a slot must stay a gap that the closing disc closes: its outer
// pixels stay solid, up to half grey, all along while it is under three pixels wide, and at wide places while its limit
// can be that of a blur under 0.71 pixels, whose disc is a cross; from there on they open by and by.
TaperMatch::StepBounds TaperMatch::bounds_of_steps(double width_mm, double plain_mm) const {
  const double pixel = across_mm_, pixels = width_mm / pixel;
  if (kind_ == WedgeKind::wall) return {pixel, std::max(3 * pixel, plain_mm), INFINITY};
  constexpr double two_and_grey = 2.96, four_and_grey = 4.96;
  return {1.04 * pixel, pixel * std::clamp(two_and_grey + 10 * (pixels - 1.9), two_and_grey, four_and_grey),
          pixels < 2.93 ? two_and_grey * pixel : INFINITY};
}

DrawnWidth TaperMatch::best_of_steps(double width_mm) const {
  const Limits limits = limits_in_blurs(kind_);
  const double from = std::clamp(width_mm / limits.most, blurs_.from_mm, blurs_.to_mm),
               to = std::clamp(width_mm / limits.least, blurs_.from_mm, blurs_.to_mm);
  const std::array<Sight, 3> sights{sight_of(width_mm, from), sight_of(width_mm, std::sqrt(from * to)),
                                    sight_of(width_mm, to)};
  const auto misfit = [&](const DrawnWidth& d) {
    Misfit all;
    for (const Sight& s : sights) {
      const double drawn = s.share * light_across(d.wide_mm, s) + (1 - s.share) * light_across(d.between_mm, s);
      all.least = std::min(all.least, (drawn - s.wanted) / s.slope);
      all.most = std::max(all.most, (drawn - s.wanted) / s.slope);
    }
    return all;
  };
  // With wide places so much wider, as wide as serves the least and the most blur alike.
  const auto even = [&](double step_mm) {
    double low = 0, high = width_mm + 3 * across_mm_;
    for (int i = 0; i < 24; ++i) {
      const double middle = (low + high) / 2;
      const Misfit m = misfit({middle + step_mm, middle});
      (m.least + m.most < 0 ? low : high) = middle;
    }
    return DrawnWidth{low + step_mm, low};
  };
  const DrawnWidth plain = even(0);
  if (slanted_) return plain;
  const auto [least, widest, widest_between] = bounds_of_steps(width_mm, plain.wide_mm);
  // Until a better one is found.
  DrawnWidth best = plain.between_mm > widest_between ? DrawnWidth{widest, widest_between} : plain;
  double least_worst = misfit(best).worst();
  for (int i = 1; i <= 20; ++i) {
    const DrawnWidth stepped = even(0.15 * i * across_mm_);
    if (stepped.between_mm < least || stepped.between_mm > widest_between || stepped.wide_mm > widest) continue;
    const double worst = misfit(stepped).worst() + 1e-5 * i;  // of like ones the plainest
    if (worst < least_worst) least_worst = worst, best = stepped;
  }
  return best;
}

// Half grey at the rim of a wide wall would make its outermost solid pixels and those behind them dim: they would count
// as lost at short times. So it is a little less, or more.
double TaperMatch::without_dim_rim(double width_mm) const {
  const double pixels = width_mm / across_mm_;
  if (kind_ == WedgeKind::slot || slanted_ || pixels < 3.5) return width_mm;
  constexpr double too_little = 0.485, enough = 0.545;
  const double outer = std::floor((pixels + 1) / 2), grey = (pixels + 1) / 2 - outer;
  if (grey <= too_little || grey >= enough) return width_mm;
  return across_mm_ * (2 * (outer + (grey < (too_little + enough) / 2 ? too_little : enough)) - 1);
}

// From 3.6 blurs on, more and more as they are: the middle is full (empty) whatever the sides are.
DrawnWidth TaperMatch::drawn(double width_mm) const {
  const double fade = (width_mm / blurs_.to_mm - 3.6) / 1.2;
  DrawnWidth d{width_mm, width_mm};
  if (fade < 1) d = best_of_steps(width_mm);
  if (fade > 0 && fade < 1) {
    d.wide_mm += (width_mm - d.wide_mm) * fade;
    d.between_mm += (width_mm - d.between_mm) * fade;
  }
  return {without_dim_rim(d.wide_mm), without_dim_rim(d.between_mm)};
}

OutlineMm matched_taper(const CouponWedge& wedge, double beyond_mm, Pitch pitch, BlurRange blurs) {
  const Frame f = frame_of(wedge);
  const TaperMatch match(wedge, pitch, blurs);
  const bool slanted = wedge.direction == WedgeDirection::slanted;
  const double along = std::hypot(pitch.x_mm * f.along.x, pitch.y_mm * f.along.y);
  const double start = slanted ? 0 : f.origin.x * f.along.x + f.origin.y * f.along.y;
  const double length = wedge.length_mm();
  const auto half_width = [&](double place, bool wide) {
    const DrawnWidth d = match.drawn(wedge.thick_width_mm * std::clamp(1 - place / length, 0.0, 1.0));
    return (wide ? d.wide_mm : d.between_mm) / 2;
  };
  OutlineMm near, far;  // the two sides, from thick to thin
  const auto add = [&](double place, double half) {
    near.push_back(f.at(place, -half));
    far.push_back(f.at(place, half));
  };
  add(-beyond_mm, half_width(0, false));
  for (auto pixel = static_cast<std::uint32_t>(start / along + 1e-6); pixel * along - start < length; ++pixel) {
    const double from = std::max(0.0, pixel * along - start), to = std::min(length, (pixel + 1) * along - start);
    if (to <= from) continue;
    if (slanted) {
      add(from, half_width(from, false));
    } else {
      const double half = half_width((from + to) / 2, pixel % wide_every == 0);
      add(from, half);
      add(to, half);
    }
  }
  near.push_back(wedge.thin_end);
  near.insert(near.end(), far.rbegin(), far.rend());
  return near;
}

}  // namespace hairline
