// PNG files taken apart (ISO/IEC 15948): the chunks a mask needs, with every checksum and length tested first.
#pragma once
#include <array>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <span>
#include <string>
#include <vector>

#include "hairline/archive.hpp"

namespace hairline::png {

using Bytes = std::span<const std::uint8_t>;

enum class Colour : std::uint8_t { grey = 0, rgb = 2, palette = 3, grey_alpha = 4, rgb_alpha = 6 };

struct Header {
  Size size;
  std::uint8_t depth = 8;
  Colour colour = Colour::grey;
  bool interlaced = false;
};

/// Views into the file; `data` holds the IDAT chunks in order, but for empty ones.
struct Parts {
  Header header;
  Bytes palette, transparency;
  std::vector<Bytes> data;
  std::uint64_t data_bytes = 0;
};

/// Whole bytes of one pixel, at least 1: the distance at which the filters look to the left.
std::uint32_t filter_step(const Header& header);
/// Bytes of one row of `width_px` pixels without its filter byte.
std::uint64_t row_bytes(const Header& header, std::uint32_t width_px);
/// Bytes the image data inflates to: filter bytes and rows, of all seven passes where interlaced.
std::uint64_t raw_bytes(const Header& header);

/// One pass of an interlaced picture: the pixels from (x0, y0) on in steps of dx and dy (ISO/IEC 15948, 8.2).
struct Pass {
  std::uint32_t x0, y0, dx, dy;
};
inline constexpr std::array<Pass, 7> passes{
    {{0, 0, 8, 8}, {4, 0, 8, 8}, {0, 4, 4, 8}, {2, 0, 4, 4}, {0, 2, 2, 4}, {1, 0, 2, 2}, {0, 1, 1, 2}}};
/// Columns and rows of a pass; either may be 0.
Size pass_size(const Pass& pass, Size size);

/// Which of the three is nearest to left + above - corner (ISO/IEC 15948, 9.4).
inline int paeth(int left, int above, int corner) {
  const int to_left = std::abs(above - corner), to_above = std::abs(left - corner);
  const int to_corner = std::abs(left + above - 2 * corner);
  if (to_left <= to_above && to_left <= to_corner) return left;
  return to_above <= to_corner ? above : corner;
}

std::uint32_t read_u32(const std::uint8_t* at);
void write_u32(std::uint8_t* at, std::uint32_t value);
/// Appends length, type, content and checksum. `type` has four letters.
void append_chunk(std::vector<std::byte>& out, const char* type, Bytes content);
void append_signature(std::vector<std::byte>& out);
/// A file of palette colours (three bytes each). `rows`: of each row its filter byte and one byte a pixel.
std::string palette_file(Size size, Bytes palette, const std::vector<std::uint8_t>& rows);

/// Of a file that could be taken apart.
Header header_of(std::span<const std::byte> file);
/// Fills `parts` (reusing its memory). Fails with broken, mismatch (size), limit.
Result<void> take_apart(Bytes file, Size expected, const PngSource& source, const Limits& limits, Parts& parts);

tl::unexpected<Error> broken(const PngSource& source, std::string found);

}  // namespace hairline::png
