// How far around a detail a close look has to see.
#include <cmath>

#include "around.hpp"

namespace hairline {

using namespace closeup;

namespace {

constexpr double part_blurs = 10, weld_blurs = 5;    // around a detail's box
constexpr double thin_blurs = 4, recess_blurs = 10;  // radii of discs
constexpr double least_disc_px = 1.5;

double wider_pitch_mm(const CloseupScale& scale) {
  return std::max(scale.pitch.x_mm, scale.pitch.y_mm);
}

int pixels_over(double mm, double pitch_mm) {
  return static_cast<int>(std::ceil(mm / pitch_mm - 1e-9));
}

// A box grown on all sides; upwards as far as one layer above the top, downwards as far as the plate.
BoxVoxels grown(BoxVoxels box, double across_mm, double up_mm, const CloseupScale& scale) {
  const int dx = pixels_over(across_mm, scale.pitch.x_mm), dy = pixels_over(across_mm, scale.pitch.y_mm);
  box.x0 -= dx, box.x1 += dx, box.y0 -= dy, box.y1 += dy;
  const double low = bottom_mm(scale, box.from_layer),
               high = bottom_mm(scale, box.to_layer) + height_mm(scale, box.to_layer);
  while (box.from_layer > 1 && low - bottom_mm(scale, box.from_layer) < up_mm - 1e-9) --box.from_layer;
  const auto top = static_cast<std::uint32_t>(scale.layers.size() + 1);
  while (box.to_layer < top && bottom_mm(scale, box.to_layer) + height_mm(scale, box.to_layer) - high < up_mm - 1e-9)
    ++box.to_layer;
  return box;
}

BoxVoxels blurs_around(const BoxVoxels& detail, double blurs, const CloseupScale& scale) {
  return grown(detail, blurs * scale.blur_mm, blurs * scale.blur_mm, scale);
}

}  // namespace

double closeup::thin_radius_mm(const CloseupScale& scale) {
  return std::max(thin_blurs * scale.blur_mm, least_disc_px * wider_pitch_mm(scale));
}
double closeup::recess_radius_mm(const CloseupScale& scale) {
  return std::max(recess_blurs * scale.blur_mm, least_disc_px * wider_pitch_mm(scale));
}

BoxVoxels closeup::part_box(const BoxVoxels& detail, const CloseupScale& scale) {
  return blurs_around(detail, part_blurs, scale);
}

BoxVoxels lots_box(const BoxVoxels& detail, const CloseupScale& scale) {
  const double around_mm = std::max(part_blurs * scale.blur_mm, scale.least_reach_mm + wider_pitch_mm(scale));
  return grown(detail, around_mm, around_mm, scale);
}

BoxVoxels solid_box(const BoxVoxels& detail, bool vanish, const CloseupScale& scale) {
  const double part_mm = part_blurs * scale.blur_mm, reach_mm = scale.least_reach_mm + wider_pitch_mm(scale);
  const double across_mm = part_mm + 2 * (vanish ? thin_radius_mm(scale) : recess_radius_mm(scale));
  const double up_mm = vanish ? part_mm : part_mm + recess_depths * scale.penetration_depth_mm;
  return grown(detail, std::max(across_mm, reach_mm), std::max(up_mm, reach_mm), scale);
}

BoxVoxels weld_box(const BoxVoxels& detail, const CloseupScale& scale) {
  return blurs_around(detail, weld_blurs, scale);
}

}  // namespace hairline
