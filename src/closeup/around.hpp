/// What the files of the close look share: heights, sizes, boxes and bits. Internal to src/closeup.
///
/// A disc of radius r holds the pixels whose centres are at most r away.
#pragma once
#include <algorithm>
#include <cstdint>

#include "closeup.hpp"

namespace hairline::closeup {

/// In penetration depths: flat recesses are at most this high.
inline constexpr double recess_depths = 5;
double thin_radius_mm(const CloseupScale& scale);    ///< walls that a disc of this radius does not fit in are thin
double recess_radius_mm(const CloseupScale& scale);  ///< gaps that one of this radius does not fit in are recesses
BoxVoxels part_box(const BoxVoxels& detail, const CloseupScale& scale);  ///< of a part, around its detail's

/// Heights as far as one empty layer above the top.
inline double height_mm(const CloseupScale& scale, std::uint32_t layer) {
  return scale.layers[std::min<std::size_t>(layer, scale.layers.size()) - 1].height_mm;
}
inline double bottom_mm(const CloseupScale& scale, std::uint32_t layer) {
  const PrintedLayer& printed = scale.layers[std::min<std::size_t>(layer, scale.layers.size()) - 1];
  return layer > scale.layers.size() ? printed.top_mm() : printed.bottom_mm;
}
inline double middle_mm(const CloseupScale& scale, std::uint32_t layer) {
  return bottom_mm(scale, layer) + height_mm(scale, layer) / 2;
}

/// out |= in moved by `by` columns both ways.
inline void or_moved(const std::uint64_t* in, std::size_t words, std::size_t by, std::uint64_t* out) {
  const std::size_t far = by / 64, near = by % 64;
  for (std::size_t w = 0; w < words; ++w) {
    std::uint64_t right = 0, left = 0;
    if (w >= far) right = in[w - far] << near;
    if (near > 0 && w >= far + 1) right |= in[w - far - 1] >> (64 - near);
    if (w + far < words) left = in[w + far] >> near;
    if (near > 0 && w + far + 1 < words) left |= in[w + far + 1] << (64 - near);
    out[w] |= right | left;
  }
}

/// Clears what the rows' last words have beyond the box.
void keep_inside(VoxelBits& bits);
VoxelBits cropped(const VoxelBits& from, const BoxVoxels& box);
/// Of two that have one box.
void add(VoxelBits& into, const VoxelBits& other);
VoxelBits both(VoxelBits a, const VoxelBits& b);

/// What stays of the detail's kind around it.
VoxelBits stays_of(const Closeup& at);

}  // namespace hairline::closeup
