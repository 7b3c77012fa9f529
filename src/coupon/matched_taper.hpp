/// Outlines of wedges: the plain taper, and the one drawn on masks so that grey pixels carry the right light.
#pragma once
#include "hairline/coupon.hpp"

namespace hairline {

/// The taper, reaching `beyond_mm` past its thick end at full width.
OutlineMm taper_prism(const CouponWedge& wedge, double beyond_mm);

/// Where the axis of a wall (slot) runs: in the middle of a row of pixels, or between two rows.
enum class PixelAxis : std::uint8_t { middle, border };

/// Width to draw for a wall (slot) meant to be `width_mm` wide, so that its middle (the two rows beside it) gets or
/// misses the light of its true width at the nominal blur. See hairline/coupon.hpp.
double matched_width_mm(double width_mm, double pitch_mm, double nominal_blur_mm, PixelAxis axis);

/// Teeth: the grey of a drawn width dealt out unevenly along the wedge, to wide places (every third pixel of a
/// wall, every other of a slot) and those between them, as far as it goes; the mean is the same. `pixel`: which one
/// along the wedge, counted from the image's edge. None from three pixels (slots: four) on. See
/// hairline/coupon.hpp.
double toothed_width_mm(double width_mm, double pitch_mm, WedgeKind kind, std::uint32_t pixel);

/// The same for a wall (slot) that runs slanted across the pixels, `pitch_mm` being their size across it. Pixels spread
/// the light further by the variance of two boxes, pitch^2 / 6: the width grows in the same measure, and by less and
/// less from 4 to 5.2 blurs, where the middle is full (empty) anyway.
double matched_slanted_width_mm(double width_mm, double pitch_mm, double nominal_blur_mm);

/// The taper with matched widths.
OutlineMm matched_taper(const CouponWedge& wedge, double beyond_mm, Pitch pitch, double nominal_blur_mm);

}  // namespace hairline
