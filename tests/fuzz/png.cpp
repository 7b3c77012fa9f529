// A PNG file, or the rows of one: what our decoder accepts stb_image decodes to the same pixels, and what only
// stb_image accepts is refused for a reason listed in docs/errors.md, Masks.
#include <libdeflate.h>

#include <array>
#include <cmath>
#include <memory>
#include <optional>

#include "archive/png_chunks.hpp"
#include "target.hpp"

#define STB_IMAGE_IMPLEMENTATION
#define STB_IMAGE_STATIC
#define STBI_ONLY_PNG
#define STBI_NO_STDIO
#include <stb/stb_image.h>

using namespace hairline;

namespace {

using Pixels = std::vector<std::uint8_t>;
using File = std::vector<std::byte>;

constexpr std::size_t header_end = 33;  // signature 8, IHDR 25
constexpr std::uint64_t most_pixels = 1 << 14;

// The chunks written anew with sound checksums, so that mutations get behind them. A palette is filled up with black,
// as ours is: stb_image leaves what is behind its end unset.
File with_checksums(png::Bytes file, bool fill_palette) {
  File out;
  png::append_signature(out);
  for (std::size_t at = 8; file.size() - at >= 12;) {
    const std::uint32_t length = png::read_u32(&file[at]);
    if (length > file.size() - at - 12) break;
    const std::string type(reinterpret_cast<const char*>(&file[at + 4]), 4);
    Pixels content(file.begin() + static_cast<std::ptrdiff_t>(at + 8),
                   file.begin() + static_cast<std::ptrdiff_t>(at + 8 + length));
    if (fill_palette && type == "PLTE" && length % 3 == 0 && length < 768) content.resize(768);
    png::append_chunk(out, type.c_str(), content);
    at += 12 + std::size_t{length};
  }
  return out;
}

// The input as image data behind a header of its first four bytes.
File from_rows(png::Bytes input) {
  constexpr std::array<png::Header, 15> kinds{{{{}, 1, png::Colour::grey},
                                               {{}, 2, png::Colour::grey},
                                               {{}, 4, png::Colour::grey},
                                               {{}, 8, png::Colour::grey},
                                               {{}, 16, png::Colour::grey},
                                               {{}, 8, png::Colour::rgb},
                                               {{}, 16, png::Colour::rgb},
                                               {{}, 1, png::Colour::palette},
                                               {{}, 2, png::Colour::palette},
                                               {{}, 4, png::Colour::palette},
                                               {{}, 8, png::Colour::palette},
                                               {{}, 8, png::Colour::grey_alpha},
                                               {{}, 16, png::Colour::grey_alpha},
                                               {{}, 8, png::Colour::rgb_alpha},
                                               {{}, 16, png::Colour::rgb_alpha}}};
  png::Header header = kinds[input[2] % kinds.size()];
  header.size = {1u + input[0] % 70, 1u + input[1] % 40};
  header.interlaced = (input[3] & 1) != 0;
  std::array<std::uint8_t, 13> head{};
  png::write_u32(&head[0], header.size.width_px);
  png::write_u32(&head[4], header.size.height_px);
  head[8] = header.depth;
  head[9] = static_cast<std::uint8_t>(header.colour);
  head[12] = header.interlaced;
  File out;
  png::append_signature(out);
  png::append_chunk(out, "IHDR", head);
  Pixels rows(input.begin() + 4, input.end());
  if (header.colour == png::Colour::palette) {
    Pixels palette(rows);
    palette.resize(48);
    png::append_chunk(out, "PLTE", palette);
  }
  const std::size_t transparent = header.colour == png::Colour::grey ? 2 : header.colour == png::Colour::rgb ? 6 : 16;
  if ((input[3] & 2) != 0 && header.colour <= png::Colour::palette) {
    Pixels transparency(rows.rbegin(), rows.rend());
    transparency.resize(transparent);
    png::append_chunk(out, "tRNS", transparency);
  }
  rows.resize(png::raw_bytes(header));
  const std::unique_ptr<libdeflate_compressor, void (*)(libdeflate_compressor*)> packer(libdeflate_alloc_compressor(1),
                                                                                        libdeflate_free_compressor);
  Pixels packed(libdeflate_zlib_compress_bound(packer.get(), rows.size()));
  packed.resize(libdeflate_zlib_compress(packer.get(), rows.data(), rows.size(), packed.data(), packed.size()));
  png::append_chunk(out, "IDAT", packed);
  png::append_chunk(out, "IEND", {});
  return out;
}

// stb_image's pixels; none where it refuses the file.
std::optional<Pixels> by_stb(const File& file, Size size, int channels) {
  int width = 0, height = 0, in_file = 0;
  const std::unique_ptr<stbi_uc, void (*)(void*)> pixels(
      stbi_load_from_memory(reinterpret_cast<const stbi_uc*>(file.data()), static_cast<int>(file.size()), &width,
                            &height, &in_file, channels),
      stbi_image_free);
  if (!pixels) return {};
  return Pixels(pixels.get(), pixels.get() + std::size_t{size.width_px} * size.height_px * channels);
}

std::optional<Pixels> grey_by_stb(const File& file, Size size) {
  const auto both = by_stb(file, size, 2);
  if (!both) return {};
  Pixels grey(both->size() / 2);
  for (std::size_t i = 0; i < grey.size(); ++i)
    grey[i] = static_cast<std::uint8_t>(std::lround((*both)[2 * i] * (*both)[2 * i + 1] / 255.0));
  return grey;
}

bool is_documented(const std::string& found) {
  constexpr std::array reasons{"the PNG is cut off",
                               "colour type",
                               "unknown method",
                               "palette is damaged",
                               "transparency part is damaged",
                               "a part nobody knows",
                               "image data is interrupted",
                               "image data is damaged",
                               "longer than its size allows",
                               "ends too early"};
  return std::any_of(reasons.begin(), reasons.end(),
                     [&](const char* reason) { return found.find(reason) != std::string::npos; });
}

void compare(const Result<Layer>& ours, const std::optional<Pixels>& theirs) {
  if (!ours) {
    fuzz::expect_told(ours.error());
    return fuzz::expect(!theirs || is_documented(ours.error().found), "only stb_image reads it: " + ours.error().found);
  }
  fuzz::expect(theirs.has_value(), "stb_image reads what we read");
  fuzz::expect(decode(*ours) == *theirs, "the same pixels");
}

}  // namespace

void hairline::fuzz::run(std::string_view input) {
  const png::Bytes bytes(reinterpret_cast<const std::uint8_t*>(input.data()), input.size());
  if (bytes.size() < 5) return;
  const bool whole = bytes.size() >= header_end && input.starts_with("\x89PNG\r\n\x1a\n");
  const File file = whole ? with_checksums(bytes, false) : from_rows(bytes);
  if (file.size() < header_end) return;
  const auto* at = reinterpret_cast<const std::uint8_t*>(file.data());
  const Size size{png::read_u32(at + 16), png::read_u32(at + 20)};
  if (std::uint64_t{size.width_px} * size.height_px > most_pixels) return;
  const File judged = with_checksums({at, file.size()}, true);
  const PngSource source{"layer.png", 1};
  compare(decode_png(file, size, source), grey_by_stb(judged, size));
  compare(decode_subpixels(file, {size.width_px * 3, size.height_px}, source), by_stb(judged, size, 3));
  if (const auto as_it_is = decode_png(std::as_bytes(std::span(input)), size, source); !as_it_is)
    expect_told(as_it_is.error());
}
