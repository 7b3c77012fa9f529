// Rasters as PNG, in a data URI or as they are. Colours: Okabe and Ito, Color Universal Design (2008); what goes
// missing is chequered and what fills in is striped as well, so that no colour has to be told from another.
#include <array>

#include "../archive/png_chunks.hpp"
#include "hairline/layer_view.hpp"
#include "html.hpp"

#define STB_IMAGE_WRITE_IMPLEMENTATION
#define STB_IMAGE_WRITE_STATIC
#define STBI_WRITE_NO_STDIO
#include <stb/stb_image_write.h>

namespace hairline {
namespace {

using Rgb = std::array<std::uint8_t, 3>;
enum Shade : std::uint8_t { paper, resin, vermilion, pale_vermilion, blue, pale_blue };
constexpr std::array<Rgb, 6> colours{
    {{246, 243, 236}, {110, 118, 124}, {213, 94, 0}, {245, 178, 128}, {0, 114, 178}, {86, 180, 233}}};

Shade shade_of(std::uint8_t value, std::uint32_t col, std::uint32_t row) {
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

std::vector<std::uint8_t> png_of(const Raster& raster, int channels, const std::vector<std::uint8_t>& pixels) {
  std::vector<std::uint8_t> file;
  const auto take = [](void* to, void* data, int size) {
    const auto* bytes = static_cast<const std::uint8_t*>(data);
    static_cast<std::vector<std::uint8_t>*>(to)->insert(static_cast<std::vector<std::uint8_t>*>(to)->end(), bytes,
                                                        bytes + size);
  };
  stbi_write_png_to_func(take, &file, static_cast<int>(raster.width_px), static_cast<int>(raster.height_px), channels,
                         pixels.data(), static_cast<int>(raster.width_px) * channels);
  return file;
}

std::string data_uri(const std::vector<std::uint8_t>& png) {
  return "data:image/png;base64," + base64(png);
}

std::vector<std::uint8_t> depth_file(const Raster& raster) {
  std::vector<std::uint8_t> pixels;
  pixels.reserve(2 * raster.values.size());
  for (const std::uint8_t depth : raster.values) {
    pixels.push_back(static_cast<std::uint8_t>(200 - depth / 2));  // nearer is darker; readable on light and on dark
    pixels.push_back(depth == 0 ? 0 : 255);
  }
  return png_of(raster, 2, pixels);
}

// One byte a pixel, rows unfiltered: much faster than colours, and a view of a layer is asked for again and again.
std::vector<std::uint8_t> shades_of(const Raster& raster) {
  std::vector<std::uint8_t> rows;
  rows.reserve(raster.values.size() + raster.height_px);
  const std::uint8_t* value = raster.values.data();
  for (std::uint32_t row = 0; row < raster.height_px; ++row) {
    rows.push_back(0);
    for (std::uint32_t col = 0; col < raster.width_px; ++col) rows.push_back(shade_of(*value++, col, row));
  }
  return rows;
}

}  // namespace

std::string becomes_png(const Raster& raster) {
  std::vector<std::uint8_t> pixels;
  pixels.reserve(3 * raster.values.size());
  for (std::uint32_t row = 0; row < raster.height_px; ++row)
    for (std::uint32_t col = 0; col < raster.width_px; ++col) {
      const Rgb& colour = colours[shade_of(raster.values[std::size_t{row} * raster.width_px + col], col, row)];
      pixels.insert(pixels.end(), colour.begin(), colour.end());
    }
  return data_uri(png_of(raster, 3, pixels));
}

std::string depth_png(const Raster& raster) {
  return data_uri(depth_file(raster));
}

std::string depth_image(const Raster& raster) {
  const std::vector<std::uint8_t> file = depth_file(raster);
  return {file.begin(), file.end()};
}

std::string layer_png(const Raster& raster) {
  std::array<std::uint8_t, 3 * colours.size()> palette{};
  for (std::size_t i = 0; i < palette.size(); ++i) palette[i] = colours[i / 3][i % 3];
  return png::palette_file({raster.width_px, raster.height_px}, palette, shades_of(raster));
}

}  // namespace hairline
