#include "any_png.hpp"

#include <png.h>

namespace archive_test {
namespace {

// Samples of one row, each of `depth` bits.
Pixels packed_row(const std::vector<int>& samples, int depth) {
  Pixels row;
  int filled = 8;
  for (const int sample : samples) {
    if (depth == 16) {
      row.push_back(static_cast<std::uint8_t>(sample >> 8));
      row.push_back(static_cast<std::uint8_t>(sample & 255));
    } else {
      if (filled == 8) row.push_back(0), filled = 0;
      filled += depth;
      row.back() = static_cast<std::uint8_t>(row.back() | sample << (8 - filled));
    }
  }
  return row;
}

}  // namespace

std::string png_of(const std::vector<int>& samples, Size size, const PngKind& kind) {
  std::string out;
  png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
  png_infop info = png_create_info_struct(png);
  const auto append = [](png_structp to, png_bytep data, std::size_t length) {
    static_cast<std::string*>(png_get_io_ptr(to))->append(reinterpret_cast<char*>(data), length);
  };
  png_set_write_fn(png, &out, append, nullptr);
  png_set_IHDR(png, info, size.width_px, size.height_px, kind.depth, kind.colour,
               kind.interlaced ? PNG_INTERLACE_ADAM7 : PNG_INTERLACE_NONE, PNG_COMPRESSION_TYPE_DEFAULT,
               PNG_FILTER_TYPE_DEFAULT);
  std::vector<png_color> greys;
  for (int i = 0; i < 1 << std::min(kind.depth, 8); ++i) {
    const auto grey = static_cast<png_byte>(i * 255 / ((1 << std::min(kind.depth, 8)) - 1));
    greys.push_back({grey, grey, grey});
  }
  if (kind.colour == palette) png_set_PLTE(png, info, greys.data(), static_cast<int>(greys.size()));
  png_write_info(png, info);
  png_set_interlace_handling(png);
  const std::size_t in_row = samples.size() / size.height_px;
  std::vector<Pixels> rows;
  for (std::uint32_t r = 0; r < size.height_px; ++r) {
    const auto begin = samples.begin() + static_cast<std::ptrdiff_t>(r * in_row);
    rows.push_back(packed_row({begin, begin + static_cast<std::ptrdiff_t>(in_row)}, kind.depth));
  }
  std::vector<png_bytep> pointers;
  for (Pixels& row : rows) pointers.push_back(row.data());
  png_write_image(png, pointers.data());
  png_write_end(png, info);
  png_destroy_write_struct(&png, &info);
  return out;
}

std::string png_of_grey(const Pixels& pixels, Size size, const PngKind& kind) {
  const bool colour = kind.colour == rgb || kind.colour == rgb_alpha;
  const bool alpha = kind.colour == grey_alpha || kind.colour == rgb_alpha;
  std::vector<int> samples;
  const auto sample = [&](int value) { return kind.depth == 16 ? value * 257 : value >> (8 - kind.depth); };
  for (const std::uint8_t pixel : pixels) {
    for (int channel = 0; channel < (colour ? 3 : 1); ++channel) samples.push_back(sample(pixel));
    if (alpha) samples.push_back(sample(kind.alpha));
  }
  return png_of(samples, size, kind);
}

}  // namespace archive_test
