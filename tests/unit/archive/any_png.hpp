// Grey pixels as a PNG of any kind, by libpng.
#pragma once
#include "support.hpp"

namespace archive_test {

/// Colour types of ISO/IEC 15948, 11.2.2.
enum Colour : int { grey = 0, rgb = 2, palette = 3, grey_alpha = 4, rgb_alpha = 6 };

struct PngKind {
  int depth = 8;
  Colour colour = grey;
  bool interlaced = false;
  std::uint8_t alpha = 255;
};

/// `samples` holds every sample of every pixel, row by row.
std::string png_of(const std::vector<int>& samples, Size size, const PngKind& kind);
/// The same grey in each channel; depths under 8 take the high bits.
std::string png_of_grey(const Pixels& pixels, Size size, const PngKind& kind);

/// A mask with a black border, so that nothing looks inverted; with `two_values` black and white only.
inline Pixels framed_mask(Size size, std::uint32_t seed, bool two_values = false) {
  Pixels pixels = some_mask(size, seed);
  for (std::uint32_t r = 0; r < size.height_px; ++r)
    for (std::uint32_t c = 0; c < size.width_px; ++c) {
      std::uint8_t& pixel = pixels[std::size_t{r} * size.width_px + c];
      if (two_values) pixel = pixel >= 128 ? 255 : 0;
      if (r == 0 || c == 0 || r + 1 == size.height_px || c + 1 == size.width_px) pixel = 0;
    }
  return pixels;
}

}  // namespace archive_test
