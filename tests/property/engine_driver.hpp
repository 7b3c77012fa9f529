/// Runs the fast exposure engine over a whole stack and lays its lists out densely, so that it can be held against the
/// slow twin voxel by voxel.
#pragma once
#include "hairline/exposure.hpp"
#include "support/slow_twin.hpp"

namespace hairline::engine {

/// Which critical exposures are asked for; voxels outside are not listed.
struct Range {
  double vanish_from_s = 0.2, fuse_to_s = 60;
  double base_share = 0;  ///< of base and transition layers' own time, below which solid is not listed
};

/// d ln(critical) / d ln(blur) and / d ln(Dp) of the listed voxels, 0 elsewhere.
struct Slopes {
  twin::Volume<double> blur, depth;
};

/// `solid`, `light`, `vanish_s` (0 where not listed), `fuse_s` (infinity where not listed), `flat_height_mm`,
/// `propped`, `thin` (1 where listed), `bulk` (1 all over a layer that has any) and `base_fuse_mm3` are filled in;
/// settled light as the engine keeps it: per second of normal exposure in normal layers
/// (`settled_per_s`), at the job's times in the others (`settled_fixed`). Checks on the way that lists are sorted, do
/// not overlap, hold positive values, and come in falling order of layers. A failure of the engine fails the running
/// test.
twin::Exposed run(const twin::Input& input, const Range& range = {}, Slopes* slopes = nullptr);

}  // namespace hairline::engine
