/// Shapes to masks: the small drawing kit behind the demo jobs, the coupon and the benchmark plates.
///
/// Shapes are given in mm in plate coordinates (x right, y down, z up from the plate) and rasterised layer by layer
/// with area-covering (anti-aliased) or hard edges. Points are snapped to 1/65536 of a pixel first, so that the last
/// bit of a sine makes no difference between machines. Time and memory grow with the edges drawn, not with the pixels.
#pragma once
#include <cstdint>
#include <string_view>
#include <vector>

#include "hairline/layer.hpp"

namespace hairline {

struct PointMm {
  double x = 0, y = 0;
  bool operator==(const PointMm&) const = default;
};
using OutlineMm = std::vector<PointMm>;  ///< closed polygon, last point joins the first; either direction

/// `grey`: a pixel's value is 255 times the share of it inside; `hard`: 255 where its centre is inside, else 0.
enum class Edges : std::uint8_t { grey, hard };

/// What several outlines of one call mean together: `even_odd`: inside is where a ray crosses an odd number of edges
/// (an outline within another is a hole); `join`: inside is where at least one outline is (each a simple polygon).
enum class Overlap : std::uint8_t { even_odd, join };

/// One layer being drawn. Coverage is exact within one call (to half a grey step), also where outlines cross. Later
/// calls draw over earlier ones; in a grey pixel that both touch, the two are taken to be independent: filling share a
/// of a pixel that is already v full gives 1 - (1 - v)(1 - a), cutting gives v (1 - a). Outlines may reach outside the
/// image; those with fewer than three points or with a coordinate that is not finite draw nothing.
class Canvas {
 public:
  Canvas(Size size, Pitch pitch, Edges edges = Edges::grey);
  /// Adds / removes the inside of the outlines.
  void fill(const std::vector<OutlineMm>& outlines, Overlap overlap = Overlap::even_odd);
  void cut(const std::vector<OutlineMm>& outlines, Overlap overlap = Overlap::even_odd);
  /// Convenience shapes (mm).
  void fill_box(PointMm from, PointMm to);
  void cut_box(PointMm from, PointMm to);
  void fill_disc(PointMm centre, double diameter_mm);
  void cut_disc(PointMm centre, double diameter_mm);
  /// Hands the layer over as runs and clears the canvas.
  Layer take();

 private:
  enum class Paint : std::uint8_t { add, remove };
  void paint(const std::vector<OutlineMm>& outlines, Overlap overlap, Paint kind);
  Size size_;
  Pitch pitch_;
  Edges edges_;
  std::vector<std::vector<Run>> rows_;
  std::vector<Run> scratch_;
};

/// Outlines. A disc is a polygon of the same area as the circle and within 0.00005 mm of it, symmetric in x, y and the
/// diagonals.
OutlineMm box_outline(PointMm from, PointMm to);
OutlineMm disc_outline(PointMm centre, double diameter_mm);
/// A regular polygon of `corners` with the area of the circle; the first corner lies to the right of the centre.
OutlineMm polygon_outline(PointMm centre, double diameter_mm, unsigned corners);
/// A bar of `width_mm` from one point to another (square ends). Empty when the points are equal.
OutlineMm bar_outline(PointMm from, PointMm to, double width_mm);
/// A bar that changes its width evenly from `from_width_mm` to `to_width_mm`.
OutlineMm taper_outline(PointMm from, double from_width_mm, PointMm to, double to_width_mm);
OutlineMm moved(const OutlineMm& outline, PointMm by);
/// Signed area by the shoelace formula, mm2: positive when the points go clockwise on the screen (y down).
double signed_area_mm2(const OutlineMm& outline);

/// Plain stroke lettering of our own (capitals, digits, space, hyphen, full stop; small letters are drawn as capitals,
/// anything else as a space): strokes of `stroke_mm` with round ends, capitals `height_mm` tall in all, starting at the
/// baseline's left end `at` and rising towards smaller y. Strokes overlap: draw with Overlap::join.
std::vector<OutlineMm> text_outlines(std::string_view text, PointMm at, double height_mm, double stroke_mm);
/// Width the text takes, mm; 0 for an empty text.
double text_width_mm(std::string_view text, double height_mm, double stroke_mm);

}  // namespace hairline
