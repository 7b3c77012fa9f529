// Rasters as PNG in a data URI. Colours: Okabe and Ito, Color Universal Design (2008); what goes missing is chequered
// and what fills in is striped as well, so that no colour has to be told from another.
#include <array>

#include "html.hpp"

#define STB_IMAGE_WRITE_IMPLEMENTATION
#define STB_IMAGE_WRITE_STATIC
#define STBI_WRITE_NO_STDIO
#include <stb/stb_image_write.h>

namespace hairline {
namespace {

using Rgb = std::array<std::uint8_t, 3>;
constexpr Rgb paper{246, 243, 236}, resin{110, 118, 124}, vermilion{213, 94, 0}, pale_vermilion{245, 178, 128},
    blue{0, 114, 178}, pale_blue{86, 180, 233};

Rgb colour_of(std::uint8_t value, std::uint32_t col, std::uint32_t row) {
  switch (static_cast<Becomes>(value)) {
    case Becomes::kept:
      return resin;
    case Becomes::missing:
      return (col + row) % 2 == 0 ? vermilion : pale_vermilion;
    case Becomes::filled:
      return row % 2 == 0 ? blue : pale_blue;
    case Becomes::empty:
      break;
  }
  return paper;
}

std::string data_uri(const Raster& raster, int channels, const std::vector<std::uint8_t>& pixels) {
  std::vector<std::uint8_t> file;
  const auto take = [](void* to, void* data, int size) {
    const auto* bytes = static_cast<const std::uint8_t*>(data);
    static_cast<std::vector<std::uint8_t>*>(to)->insert(static_cast<std::vector<std::uint8_t>*>(to)->end(), bytes,
                                                        bytes + size);
  };
  stbi_write_png_to_func(take, &file, static_cast<int>(raster.width_px), static_cast<int>(raster.height_px), channels,
                         pixels.data(), static_cast<int>(raster.width_px) * channels);
  return "data:image/png;base64," + base64(file);
}

}  // namespace

std::string becomes_png(const Raster& raster) {
  std::vector<std::uint8_t> pixels;
  pixels.reserve(3 * raster.values.size());
  for (std::uint32_t row = 0; row < raster.height_px; ++row)
    for (std::uint32_t col = 0; col < raster.width_px; ++col) {
      const Rgb colour = colour_of(raster.values[std::size_t{row} * raster.width_px + col], col, row);
      pixels.insert(pixels.end(), colour.begin(), colour.end());
    }
  return data_uri(raster, 3, pixels);
}

std::string depth_png(const Raster& raster) {
  std::vector<std::uint8_t> pixels;
  pixels.reserve(2 * raster.values.size());
  for (const std::uint8_t depth : raster.values) {
    pixels.push_back(static_cast<std::uint8_t>(200 - depth / 2));  // nearer is darker; readable on light and on dark
    pixels.push_back(depth == 0 ? 0 : 255);
  }
  return data_uri(raster, 2, pixels);
}

}  // namespace hairline
