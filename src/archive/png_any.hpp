// Every PNG kind but the common ones, by stb_image.
#pragma once
#include <cstdint>
#include <vector>

#include "png_chunks.hpp"

namespace hairline::png {

/// Rec. 601 luma in whole numbers, as stb_image has it.
inline std::uint8_t luma(std::uint32_t red, std::uint32_t green, std::uint32_t blue) {
  return static_cast<std::uint8_t>((77 * red + 150 * green + 29 * blue) >> 8);
}

/// Grey shown over black, rounded to the nearest value.
inline std::uint8_t over_black(std::uint32_t grey, std::uint32_t alpha) {
  return static_cast<std::uint8_t>((grey * alpha + 127) / 255);
}

/// Grey pixels, row-major. `parts` have been taken apart and inflate to the right length. Fails with broken, limit.
Result<std::vector<std::uint8_t>> decode_any(const Parts& parts, const PngSource& source);
/// Red, green and blue of every pixel, row-major; alpha is left out. Otherwise the same.
Result<std::vector<std::uint8_t>> decode_colour(const Parts& parts, const PngSource& source);

}  // namespace hairline::png
