/// How voxels become pixels of a picture: shared by pictures of details and views of layers.
#pragma once
#include <algorithm>
#include <cstdint>
#include <vector>

#include "hairline/pictures.hpp"

namespace hairline::risk {

/// Voxels [from, to) of one direction in `pixels` pixels, several to one where there are too many.
struct Axis {
  int from = 0, to = 0;
  std::uint32_t pixels = 0;
  std::uint32_t pixel(int at) const {
    return static_cast<std::uint32_t>(std::int64_t{at - from} * pixels / std::int64_t{to - from});
  }
};

inline Raster raster(std::uint32_t width_px, std::uint32_t height_px, double pitch_x_mm, double pitch_y_mm) {
  return {width_px, height_px, pitch_x_mm, pitch_y_mm, std::vector<std::uint8_t>(std::size_t{width_px} * height_px, 0)};
}

/// What changes goes before what stays: the greater value.
inline void paint(Raster& raster, std::uint32_t row, std::uint32_t begin, std::uint32_t end, Becomes what) {
  std::uint8_t* values = raster.values.data() + std::size_t{row} * raster.width_px;
  for (std::uint32_t i = begin; i < end; ++i) values[i] = std::max(values[i], static_cast<std::uint8_t>(what));
}

}  // namespace hairline::risk
