/// Shapes to masks: the small drawing kit behind the demo jobs, the coupon and the benchmark plates.
///
/// Shapes are given in mm in plate coordinates (x right, y down, z up from the plate) and rasterised layer by layer with
/// area-covering (anti-aliased) or hard edges.
#pragma once
#include <cstdint>
#include <functional>
#include <string_view>
#include <vector>

#include "hairline/layer.hpp"

namespace hairline {

struct PointMm {
  double x = 0, y = 0;
};
using OutlineMm = std::vector<PointMm>;  ///< closed polygon, last point joins the first

enum class Edges : std::uint8_t { grey, hard };

/// One layer being drawn. Later calls draw over earlier ones. Coverage is exact for polygons up to 1/255: a pixel's value
/// is 255 times the share of it inside (grey edges), or 255 where its centre is inside (hard edges).
class Canvas {
 public:
  Canvas(Size size, Pitch pitch, Edges edges = Edges::grey);
  /// Adds / removes the inside of the outlines (even-odd rule over all of them together).
  void fill(const std::vector<OutlineMm>& outlines);
  void cut(const std::vector<OutlineMm>& outlines);
  /// Convenience shapes (mm).
  void fill_box(PointMm from, PointMm to);
  void cut_box(PointMm from, PointMm to);
  void fill_disc(PointMm centre, double diameter_mm);
  void cut_disc(PointMm centre, double diameter_mm);
  /// Hands the layer over as runs and clears the canvas.
  Layer take();

 private:
  void paint(const std::vector<OutlineMm>& outlines, bool add);
  Size size_;
  Pitch pitch_;
  Edges edges_;
  std::vector<std::vector<Run>> rows_;
};

/// Outlines.
OutlineMm box_outline(PointMm from, PointMm to);
OutlineMm disc_outline(PointMm centre, double diameter_mm);
/// A bar of `width_mm` from one point to another (square ends).
OutlineMm bar_outline(PointMm from, PointMm to, double width_mm);
OutlineMm moved(const OutlineMm& outline, PointMm by);

/// Plain stroke lettering of our own (capitals, digits, space, hyphen, full stop): bars of `stroke_mm`, capitals
/// `height_mm` tall, starting at the baseline's left end `at`.
std::vector<OutlineMm> text_outlines(std::string_view text, PointMm at, double height_mm, double stroke_mm);
/// Width the text takes, mm.
double text_width_mm(std::string_view text, double height_mm, double stroke_mm);

}  // namespace hairline
