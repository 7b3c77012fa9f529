/// Outlines of wedges: the plain taper, and the one drawn on masks so that grey pixels carry the right light.
#pragma once
#include "hairline/coupon.hpp"

namespace hairline {

/// The taper, reaching `beyond_mm` past its thick end at full width.
OutlineMm taper_prism(const CouponWedge& wedge, double beyond_mm);

/// Width to draw for a wall (slot) meant to be `width_mm` wide whose axis is the middle of a row of pixels, so that its
/// middle gets (misses) the light of its true width at the nominal blur. See hairline/coupon.hpp.
double matched_width_mm(double width_mm, double pitch_mm, double nominal_blur_mm);

/// The same for one whose axis lies between two rows of pixels: the two beside it get (miss) the light of its true
/// width.
double matched_even_width_mm(double width_mm, double pitch_mm, double nominal_blur_mm);

/// The same for a wall (slot) that runs slanted across the pixels, `pitch_mm` being their size across it. Pixels spread
/// the light further by the variance of two boxes, pitch^2 / 6: the width grows in the same measure, and by less and
/// less from 4 to 7 blurs, where the middle is full (empty) anyway.
double matched_slanted_width_mm(double width_mm, double pitch_mm, double nominal_blur_mm);

/// The taper with matched widths.
OutlineMm matched_taper(const CouponWedge& wedge, double beyond_mm, Pitch pitch, double nominal_blur_mm);

}  // namespace hairline
