#include "png_any.hpp"

#include <array>
#include <climits>
#include <cstring>
#include <memory>

// The only place that holds stb_image. Its own limits are not needed: sizes have been checked before.
#define STB_IMAGE_IMPLEMENTATION
#define STB_IMAGE_STATIC
#define STBI_ONLY_PNG
#define STBI_NO_STDIO
#define STBI_NO_FAILURE_STRINGS
#define STBI_MAX_DIMENSIONS 65535
#include <stb_image.h>

namespace hairline::png {
namespace {

// The file written anew with nothing but what the picture needs, and with the palette filled up with black: an index
// behind its end would read memory that was never set.
std::vector<std::byte> minimal_file(const Parts& parts) {
  std::vector<std::byte> file;
  append_signature(file);
  const Header& header = parts.header;
  std::array<std::uint8_t, 13> head{};
  write_u32(&head[0], header.size.width_px);
  write_u32(&head[4], header.size.height_px);
  head[8] = header.depth;
  head[9] = static_cast<std::uint8_t>(header.colour);
  head[12] = header.interlaced ? 1 : 0;
  append_chunk(file, "IHDR", head);
  if (header.colour == Colour::palette) {
    std::vector<std::uint8_t> palette(768, 0);
    std::memcpy(palette.data(), parts.palette.data(), parts.palette.size());
    append_chunk(file, "PLTE", palette);
  }
  if (!parts.transparency.empty()) append_chunk(file, "tRNS", parts.transparency);
  for (const Bytes data : parts.data) append_chunk(file, "IDAT", data);
  append_chunk(file, "IEND", {});
  return file;
}

struct Free {
  void operator()(stbi_uc* pixels) const { stbi_image_free(pixels); }
};

using Pixels = std::unique_ptr<stbi_uc, Free>;

Result<Pixels> load(const Parts& parts, const PngSource& source, int channels) {
  const std::vector<std::byte> file = minimal_file(parts);
  if (file.size() > INT_MAX) return broken(source, "the PNG is larger than 2 GiB");
  int width = 0, height = 0, in_file = 0;
  Pixels pixels(stbi_load_from_memory(reinterpret_cast<const stbi_uc*>(file.data()), static_cast<int>(file.size()),
                                      &width, &height, &in_file, channels));
  if (!pixels) return broken(source, "the PNG's image data is damaged or needs more memory than there is");
  return pixels;
}

std::size_t pixels_of(const Parts& parts) {
  return std::size_t{parts.header.size.width_px} * parts.header.size.height_px;
}

}  // namespace

Result<std::vector<std::uint8_t>> decode_any(const Parts& parts, const PngSource& source) {
  const Colour colour = parts.header.colour;
  const bool alpha = colour == Colour::grey_alpha || colour == Colour::rgb_alpha || !parts.transparency.empty();
  const auto pixels = load(parts, source, alpha ? 2 : 1);
  if (!pixels) return tl::unexpected(pixels.error());
  const stbi_uc* from = pixels->get();
  std::vector<std::uint8_t> grey(pixels_of(parts));
  if (!alpha)
    std::memcpy(grey.data(), from, grey.size());
  else
    for (std::size_t i = 0; i < grey.size(); ++i) grey[i] = over_black(from[2 * i], from[2 * i + 1]);
  return grey;
}

Result<std::vector<std::uint8_t>> decode_colour(const Parts& parts, const PngSource& source) {
  const auto pixels = load(parts, source, 3);
  if (!pixels) return tl::unexpected(pixels.error());
  return std::vector<std::uint8_t>(pixels->get(), pixels->get() + 3 * pixels_of(parts));
}

}  // namespace hairline::png
