/// The whole lighthouse of the night-long job.
#pragma once
#include "hairline/draw.hpp"

namespace hairline::demo {

inline constexpr PointMm tower_middle{36, 52};
inline constexpr double lighthouse_top_mm = 90;

/// Cross-section at height z_mm of tower, galleries, lantern, rock, cottage, name plate and boat.
void lighthouse(Canvas& canvas, double z_mm);

}  // namespace hairline::demo
