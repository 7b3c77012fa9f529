/// Boxes of voxels in mm.
#pragma once
#include <cmath>

#include "hairline/risk.hpp"

namespace hairline::risk {

inline BoxMm box_mm(const RiskContext& context, const BoxPx& box, std::uint32_t from_layer, std::uint32_t to_layer) {
  const LayerPlan &low = context.layers[from_layer - 1], &high = context.layers[to_layer - 1];
  return hairline::box_mm(box, context.pitch, low.bottom_mm, high.bottom_mm + high.height_mm);
}

/// Its diagonal.
inline double extent_mm(const BoxMm& box) {
  return std::hypot(box.to.x - box.from.x, box.to.y - box.from.y, box.to.z - box.from.z);
}

}  // namespace hairline::risk
