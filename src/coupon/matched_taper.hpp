/// Outlines of wedges: the plain taper, and the one drawn on masks so that grey pixels carry the right light.
#pragma once
#include "hairline/coupon.hpp"

namespace hairline {

/// The taper, reaching `beyond_mm` past its thick end at full width.
OutlineMm taper_prism(const CouponWedge& wedge, double beyond_mm);

/// Width to draw for a wall (slot) meant to be `width_mm` wide whose axis is the middle of a row of pixels, so that its
/// middle gets (misses) the light of its true width at the nominal blur. See hairline/coupon.hpp.
double matched_width_mm(double width_mm, double pitch_mm, double nominal_blur_mm);

/// The same taper with matched widths, for wedges along x or y.
OutlineMm matched_taper(const CouponWedge& wedge, double beyond_mm, double pitch_mm, double nominal_blur_mm);

}  // namespace hairline
