/// Outlines of wedges: the plain taper, and the one drawn on masks so that grey pixels carry the right light.
#pragma once
#include "hairline/coupon.hpp"

namespace hairline {

/// The taper, reaching `beyond_mm` past its thick end at full width.
OutlineMm taper_prism(const CouponWedge& wedge, double beyond_mm);

/// The same with the widths of `TaperMatch`.
OutlineMm matched_taper(const CouponWedge& wedge, double beyond_mm, Pitch pitch, BlurRange blurs);

/// What to draw for a width of a wedge, in mm: along x and y every third pixel of its length is a wide place, and those
/// between are all alike; a slanted one has none.
struct DrawnWidth {
  double wide_mm = 0, between_mm = 0;
};

/// Finds what to draw, such that the limits read off the wedge are those of its true width for every blur in a range:
/// see hairline/coupon.hpp.
class TaperMatch {
 public:
  TaperMatch(const CouponWedge& wedge, Pitch pitch, BlurRange blurs);
  DrawnWidth drawn(double width_mm) const;

 private:
  struct Sight;
  struct StepBounds;
  double judged_ahead_mm(double blur_mm) const;
  Sight sight_of(double width_mm, double blur_mm) const;
  double light_across(double width_mm, const Sight& sight) const;
  StepBounds bounds_of_steps(double width_mm, double plain_mm) const;
  DrawnWidth best_of_steps(double width_mm) const;
  double without_dim_rim(double width_mm) const;

  WedgeKind kind_;
  bool slanted_;
  BlurRange blurs_;
  double across_mm_, along_mm_;  // size of a pixel across and along the axis
  double slope_;                 // of width against length
};

}  // namespace hairline
