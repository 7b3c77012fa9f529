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

}  // namespace

Result<std::vector<std::uint8_t>> decode_any(const Parts& parts, const PngSource& source) {
  const std::vector<std::byte> file = minimal_file(parts);
  if (file.size() > INT_MAX) return broken(source, "the PNG is larger than 2 GiB");
  const Colour colour = parts.header.colour;
  const bool alpha = colour == Colour::grey_alpha || colour == Colour::rgb_alpha || !parts.transparency.empty();
  int width = 0, height = 0, channels = 0;
  const std::unique_ptr<stbi_uc, Free> pixels(stbi_load_from_memory(reinterpret_cast<const stbi_uc*>(file.data()),
                                                                    static_cast<int>(file.size()), &width, &height,
                                                                    &channels, alpha ? 2 : 1));
  if (!pixels) return broken(source, "the PNG's image data is damaged or needs more memory than there is");
  const std::size_t count = std::size_t{parts.header.size.width_px} * parts.header.size.height_px;
  std::vector<std::uint8_t> grey(count);
  if (!alpha)
    std::memcpy(grey.data(), pixels.get(), count);
  else
    for (std::size_t i = 0; i < count; ++i) grey[i] = over_black(pixels.get()[2 * i], pixels.get()[2 * i + 1]);
  return grey;
}

}  // namespace hairline::png
