/// Boxes of voxels, and boxes in mm.
#pragma once
#include <algorithm>
#include <cmath>

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

}  // namespace hairline::risk
