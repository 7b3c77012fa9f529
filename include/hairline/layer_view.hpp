/// A part of a layer as a picture: what is kept, missing and filled at one of the check's times.
#pragma once
#include <string>

#include "hairline/flips.hpp"
#include "hairline/pictures.hpp"

namespace hairline {

inline constexpr std::uint32_t most_view_px = 2000;

/// The box, in voxels, and the pixels it is wanted in.
struct LayerView {
  BoxPx box;
  std::uint32_t width_px = 0, height_px = 0;
};

/// Values are `Becomes`. As masks are drawn: of a mirrored job too. A pixel is one voxel or more, so that the raster
/// may have fewer pixels than were asked for; where several voxels make one pixel what changes is shown before what
/// stays. `time`: index of FlipsHead::times_s; without times the layer is shown as drawn. `solid` and `flips` are of
/// one layer. Fails with invalid: an empty box, one that reaches beyond the layer, no pixels or more than
/// `most_view_px` on a side.
Result<Raster> layer_view(const Mask& solid, const LayerFlips& flips, std::uint32_t time, Pitch pitch,
                          const LayerView& view);

/// What changes in a whole layer at one time: pieces that touch by sides or corners, and their area.
struct LayerChanges {
  std::uint32_t missing = 0, filled = 0;
  double missing_mm2 = 0, filled_mm2 = 0;
};
LayerChanges layer_changes(const Mask& solid, const LayerFlips& flips, std::uint32_t time, Pitch pitch);

/// Such a raster as PNG, in colours and patterns of the report's pictures. Same values, same bytes.
std::string layer_png(const Raster& raster);

/// The print from the front, grey and transparent, at most `most_px` on its longer side; for light and dark pages.
std::string thumbnail_png(const Silhouettes& print, std::uint32_t most_px = 160);

}  // namespace hairline
