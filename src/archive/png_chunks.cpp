#include "png_chunks.hpp"

#include <fmt/format.h>
#include <libdeflate.h>

#include <algorithm>
#include <cstring>

namespace hairline::png {
namespace {

constexpr std::uint8_t signature[8] = {137, 80, 78, 71, 13, 10, 26, 10};

constexpr std::uint32_t type_code(const char (&name)[5]) {
  std::uint32_t code = 0;
  for (int i = 0; i < 4; ++i) code = (code << 8) | static_cast<unsigned char>(name[i]);
  return code;
}
constexpr std::uint32_t ihdr = type_code("IHDR"), plte = type_code("PLTE"), trns = type_code("tRNS"),
                        idat = type_code("IDAT"), iend = type_code("IEND");

struct Chunk {
  std::uint32_t type = 0;
  Bytes content;
};

// Bit 5 of the first letter: lower case marks a chunk that may be skipped.
bool is_critical(std::uint32_t type) {
  return (type & (1u << 29)) == 0;
}

std::string type_name(std::uint32_t type) {
  std::string name;
  for (int shift = 24; shift >= 0; shift -= 8) name += static_cast<char>((type >> shift) & 0xFF);
  return name;
}

// One chunk at `at`, which moves behind it. Checksums are tested where the chunk is used.
Result<Chunk> next_chunk(Bytes file, std::size_t& at, const PngSource& source) {
  if (file.size() - at < 12) return broken(source, "the PNG is cut off");
  const std::uint32_t length = read_u32(&file[at]);
  const std::uint32_t type = read_u32(&file[at + 4]);
  if (length > file.size() - at - 12)
    return broken(source, fmt::format("the PNG is cut off in its {} part", type_name(type)));
  const bool used = is_critical(type) || type == trns;
  if (used && libdeflate_crc32(0, &file[at + 4], length + 4) != read_u32(&file[at + 8 + length]))
    return broken(source, fmt::format("the checksum of the PNG's {} part is wrong", type_name(type)));
  const Chunk chunk{type, file.subspan(at + 8, length)};
  at += 12 + std::size_t{length};
  return chunk;
}

bool depth_allowed(std::uint8_t depth, std::uint8_t colour) {
  const bool part_of_byte = depth == 1 || depth == 2 || depth == 4, whole = depth == 8 || depth == 16;
  if (colour == 0) return part_of_byte || whole;
  if (colour == 3) return part_of_byte || depth == 8;
  return whole && (colour == 2 || colour == 4 || colour == 6);
}

Header header_in(const std::uint8_t* content) {
  const Size size{read_u32(content), read_u32(content + 4)};
  return {size, content[8], static_cast<Colour>(content[9]), content[12] == 1};
}

Result<Header> read_header(const Chunk& chunk, const PngSource& source) {
  if (chunk.type != ihdr || chunk.content.size() != 13) return broken(source, "the PNG does not start with a header");
  const std::uint8_t* at = chunk.content.data();
  const std::uint8_t depth = at[8], colour = at[9], method = at[10], filter = at[11], interlace = at[12];
  if (!depth_allowed(depth, colour))
    return broken(source, fmt::format("the PNG claims colour type {} with {} bits, which do not exist", colour, depth));
  if (method != 0 || filter != 0 || interlace > 1) return broken(source, "the PNG header names an unknown method");
  const Header header = header_in(at);
  if (header.size.width_px == 0 || header.size.height_px == 0) return broken(source, "the PNG has no pixels");
  return header;
}

Result<void> check_size(const Header& header, Size expected, const PngSource& source, const Limits& limits) {
  const Size size = header.size;
  const auto fail = [&](ErrorKind kind, std::string wanted, std::string advice) {
    return tl::unexpected(Error{kind, source.file,
                                fmt::format("the mask is {} x {} pixels", size.width_px, size.height_px),
                                std::move(wanted), std::move(advice), source.layer});
  };
  if (size != expected)
    return fail(ErrorKind::mismatch,
                fmt::format("{} x {} pixels, as the manifest says", expected.width_px, expected.height_px),
                "Export the layer again at the manifest's size, or correct \"image\" in the manifest.");
  if (size.width_px > limits.side_px || size.height_px > limits.side_px ||
      std::uint64_t{size.width_px} * size.height_px > limits.pixels_per_mask)
    return fail(ErrorKind::limit, fmt::format("at most {} pixels in a mask", limits.pixels_per_mask),
                "Check the image size.");
  return {};
}

Result<void> take_palette(const Chunk& chunk, const PngSource& source, Parts& parts) {
  if (!parts.palette.empty() || parts.data_bytes > 0 || chunk.content.empty() || chunk.content.size() % 3 != 0 ||
      chunk.content.size() > 768)
    return broken(source, "the PNG's palette is damaged");
  parts.palette = chunk.content;
  return {};
}

Result<void> take_transparency(const Chunk& chunk, const PngSource& source, Parts& parts) {
  const std::size_t bytes = chunk.content.size();
  const Colour colour = parts.header.colour;
  const bool fits = (colour == Colour::grey && bytes == 2) || (colour == Colour::rgb && bytes == 6) ||
                    (colour == Colour::palette && bytes > 0 && bytes <= parts.palette.size() / 3);
  if (!fits || parts.data_bytes > 0 || !parts.transparency.empty())
    return broken(source, "the PNG's transparency part is damaged");
  parts.transparency = chunk.content;
  return {};
}

Result<void> check_data(const PngSource& source, const Limits& limits, const Parts& parts) {
  if (parts.data_bytes == 0) return broken(source, "the PNG holds no image data");
  if (parts.header.colour == Colour::palette && parts.palette.empty())
    return broken(source, "the PNG lacks its palette");
  const double most = (static_cast<double>(parts.data_bytes) + 64) * limits.compression_ratio;
  if (static_cast<double>(raw_bytes(parts.header)) > most)
    return broken(source, fmt::format("the PNG holds {} bytes of image data, too few for its size", parts.data_bytes));
  return {};
}

std::uint32_t bits_per_pixel(const Header& header) {
  constexpr std::uint32_t channels[] = {1, 0, 3, 1, 2, 0, 4};  // by colour type
  return header.depth * channels[static_cast<std::size_t>(header.colour)];
}

std::uint32_t steps(std::uint32_t length, std::uint32_t from, std::uint32_t step) {
  return length > from ? (length - from - 1) / step + 1 : 0;
}

}  // namespace

tl::unexpected<Error> broken(const PngSource& source, std::string found) {
  return tl::unexpected(Error{ErrorKind::broken, source.file, std::move(found), "a sound PNG file",
                              "Export the layer again.", source.layer});
}

std::uint32_t read_u32(const std::uint8_t* at) {
  return (std::uint32_t{at[0]} << 24) | (std::uint32_t{at[1]} << 16) | (std::uint32_t{at[2]} << 8) | at[3];
}

void write_u32(std::uint8_t* at, std::uint32_t value) {
  for (int shift = 24; shift >= 0; shift -= 8) *at++ = static_cast<std::uint8_t>(value >> shift);
}

void append_signature(std::vector<std::byte>& out) {
  out.resize(out.size() + sizeof signature);
  std::memcpy(out.data() + out.size() - sizeof signature, signature, sizeof signature);
}

void append_chunk(std::vector<std::byte>& out, const char* type, Bytes content) {
  const std::size_t start = out.size();
  out.resize(start + 12 + content.size());
  auto* at = reinterpret_cast<std::uint8_t*>(out.data() + start);
  write_u32(at, static_cast<std::uint32_t>(content.size()));
  std::memcpy(at + 4, type, 4);
  if (!content.empty()) std::memcpy(at + 8, content.data(), content.size());
  write_u32(at + 8 + content.size(), libdeflate_crc32(0, at + 4, content.size() + 4));
}

std::uint32_t filter_step(const Header& header) {
  return std::max(1u, bits_per_pixel(header) / 8);
}

std::uint64_t row_bytes(const Header& header, std::uint32_t width_px) {
  return (std::uint64_t{width_px} * bits_per_pixel(header) + 7) / 8;
}

Size pass_size(const Pass& pass, Size size) {
  return {steps(size.width_px, pass.x0, pass.dx), steps(size.height_px, pass.y0, pass.dy)};
}

std::uint64_t raw_bytes(const Header& header) {
  if (!header.interlaced) return (row_bytes(header, header.size.width_px) + 1) * header.size.height_px;
  std::uint64_t total = 0;
  for (const Pass& pass : passes) {
    const Size part = pass_size(pass, header.size);
    if (part.width_px > 0) total += (row_bytes(header, part.width_px) + 1) * part.height_px;
  }
  return total;
}

Header header_of(std::span<const std::byte> file) {
  return header_in(reinterpret_cast<const std::uint8_t*>(file.data()) + sizeof signature +
                   8);  // behind length and type
}

Result<void> take_apart(Bytes file, Size expected, const PngSource& source, const Limits& limits, Parts& parts) {
  parts.palette = parts.transparency = {};
  parts.data.clear();
  parts.data_bytes = 0;
  if (file.empty()) return broken(source, "the layer's file is empty");
  if (file.size() < sizeof signature || std::memcmp(file.data(), signature, sizeof signature) != 0)
    return broken(source, "the layer's file is not a PNG");
  std::size_t at = sizeof signature;
  auto first = next_chunk(file, at, source);
  if (!first) return tl::unexpected(std::move(first.error()));
  auto header = read_header(*first, source);
  if (!header) return tl::unexpected(std::move(header.error()));
  parts.header = *header;
  if (auto fits = check_size(parts.header, expected, source, limits); !fits) return fits;
  bool data_began = false, data_ended = false;
  for (;;) {
    auto chunk = next_chunk(file, at, source);
    if (!chunk) return tl::unexpected(std::move(chunk.error()));
    data_ended = data_ended || (data_began && chunk->type != idat);
    Result<void> taken;
    if (chunk->type == iend) return check_data(source, limits, parts);
    if (chunk->type == idat) {
      if (data_ended) return broken(source, "the PNG's image data is interrupted");
      data_began = true;
      if (!chunk->content.empty()) parts.data.push_back(chunk->content);
      parts.data_bytes += chunk->content.size();
    } else if (chunk->type == plte) {
      taken = take_palette(*chunk, source, parts);
    } else if (chunk->type == trns) {
      taken = take_transparency(*chunk, source, parts);
    } else if (is_critical(chunk->type)) {
      return broken(source, fmt::format("the PNG holds a part nobody knows ({})", type_name(chunk->type)));
    }
    if (!taken) return taken;
  }
}

}  // namespace hairline::png
