// PNG pixels of every colour type and depth as bytes: grey, or red, green and blue (ISO/IEC 15948, 6 and 13).
#pragma once
#include <cstdint>
#include <vector>

#include "png_chunks.hpp"

namespace hairline::png {

/// What is made of each pixel.
enum class Meaning : std::uint8_t {
  grey = 1,       ///< Rec. 601 luma over black, one byte
  subpixels = 3,  ///< red, green and blue side by side, alpha left out
};

/// One unfiltered row of `width_px` pixels: the row itself where it is what is meant already, else `values` filled from
/// it, which has room.
const std::uint8_t* row_values(const Parts& parts, Meaning meaning, const std::uint8_t* row, std::uint32_t width_px,
                               std::vector<std::uint8_t>& values);

}  // namespace hairline::png
