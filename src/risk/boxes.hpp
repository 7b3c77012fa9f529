/// Boxes of voxels, and boxes in mm.
#pragma once
#include <algorithm>
#include <cmath>
#include <vector>

#include "../closeup/closeup.hpp"
#include "hairline/risk.hpp"

namespace hairline::risk {

inline BoxVoxels around_both(const BoxVoxels& a, const BoxVoxels& b) {
  return {std::min(a.x0, b.x0),
          std::min(a.y0, b.y0),
          std::max(a.x1, b.x1),
          std::max(a.y1, b.y1),
          std::min(a.from_layer, b.from_layer),
          std::max(a.to_layer, b.to_layer)};
}

inline BoxMm box_mm(const RiskContext& context, const BoxPx& box, std::uint32_t from_layer, std::uint32_t to_layer) {
  return hairline::box_mm(box, context.pitch, context.layers[from_layer - 1].bottom_mm,
                          context.layers[to_layer - 1].top_mm());
}
/// Of a part or a body.
inline BoxMm box_mm(const RiskContext& context, const auto& solid) {
  return box_mm(context, solid.box, solid.from_layer, solid.to_layer);
}

/// Its diagonal.
inline double extent_mm(const BoxMm& box) {
  return std::hypot(box.to.x - box.from.x, box.to.y - box.from.y, box.to.z - box.from.z);
}

/// Boxes that others may overlap.
class BoxSet {
 public:
  explicit BoxSet(std::vector<BoxMm> boxes) : boxes_(std::move(boxes)) {
    std::sort(boxes_.begin(), boxes_.end(), [](const BoxMm& a, const BoxMm& b) { return a.from.x < b.from.x; });
    for (const BoxMm& box : boxes_) widest_mm_ = std::max(widest_mm_, box.to.x - box.from.x);
  }
  bool overlaps(const BoxMm& box) const {
    const auto from_x = [](const BoxMm& one, double x_mm) { return one.from.x < x_mm; };
    const auto first = std::lower_bound(boxes_.begin(), boxes_.end(), box.from.x - widest_mm_, from_x);
    const auto last = std::lower_bound(first, boxes_.end(), box.to.x, from_x);
    return std::any_of(first, last, [&](const BoxMm& one) { return overlap(one, box); });
  }

 private:
  std::vector<BoxMm> boxes_;
  double widest_mm_ = 0;
};

}  // namespace hairline::risk
