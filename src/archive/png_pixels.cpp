#include "png_pixels.hpp"

#include <cstddef>

namespace hairline::png {
namespace {

// Red, green, blue and alpha, of 16 bits each where the file has so many, else of 8.
struct Pixel {
  std::uint32_t red, green, blue, alpha;
};

// In whole numbers.
constexpr std::uint32_t luma(std::uint32_t red, std::uint32_t green, std::uint32_t blue) {
  return (77 * red + 150 * green + 29 * blue) >> 8;
}

// Rounded to the nearest value.
constexpr std::uint8_t over_black(std::uint32_t grey, std::uint32_t alpha) {
  return static_cast<std::uint8_t>((grey * alpha + 127) / 255);
}

std::uint32_t sample(const std::uint8_t* row, std::uint32_t depth, std::size_t at) {
  if (depth == 8) return row[at];
  if (depth == 16) return row[2 * at] * 256u + row[2 * at + 1];
  const std::size_t bit = at * depth;
  return (row[bit / 8] >> (8 - depth - bit % 8)) & ((1u << depth) - 1);
}

// Is channel `channel` what the transparency part names? Under 16 bits its upper byte does not count.
bool is_key(const Parts& parts, std::uint32_t value, std::size_t channel) {
  return value == (sample(parts.transparency.data(), 16, channel) & (parts.header.depth == 16 ? 0xFFFFu : 0xFFu));
}

Pixel palette_pixel(const Parts& parts, std::uint32_t index) {
  const std::uint32_t alpha = index < parts.transparency.size() ? parts.transparency[index] : 255;
  if (3 * std::size_t{index} >= parts.palette.size()) return {0, 0, 0, alpha};  // behind its end: black
  const std::uint8_t* at = &parts.palette[3 * std::size_t{index}];
  return {at[0], at[1], at[2], alpha};
}

Pixel pixel_at(const Parts& parts, const std::uint8_t* row, std::size_t x) {
  const std::uint32_t depth = parts.header.depth, most = (1u << depth) - 1, opaque = depth == 16 ? 0xFFFF : 255;
  const auto value = [&](std::size_t channels, std::size_t channel) {
    return sample(row, depth, x * channels + channel);
  };
  const bool keyed = !parts.transparency.empty();
  switch (parts.header.colour) {
    case Colour::palette:
      return palette_pixel(parts, value(1, 0));
    case Colour::grey: {
      const std::uint32_t grey = value(1, 0), whole = depth < 8 ? grey * (255 / most) : grey;
      return {whole, whole, whole, keyed && is_key(parts, grey, 0) ? 0 : opaque};
    }
    case Colour::grey_alpha:
      return {value(2, 0), value(2, 0), value(2, 0), value(2, 1)};
    case Colour::rgb: {
      const Pixel out{value(3, 0), value(3, 1), value(3, 2), opaque};
      const bool hidden =
          keyed && is_key(parts, out.red, 0) && is_key(parts, out.green, 1) && is_key(parts, out.blue, 2);
      return hidden ? Pixel{out.red, out.green, out.blue, 0} : out;
    }
    case Colour::rgb_alpha:
      break;
  }
  return {value(4, 0), value(4, 1), value(4, 2), value(4, 3)};
}

// ---- the kinds that masks mostly have ----

void grey_from_bits(const std::uint8_t* bits, std::uint8_t* grey, std::uint32_t width) {
  for (std::uint32_t x = 0; x < width; ++x) grey[x] = (bits[x / 8] >> (7 - x % 8)) & 1 ? 255 : 0;
}

void grey_from_colour(const std::uint8_t* colour, std::uint8_t* grey, std::uint32_t width) {
  for (std::uint32_t x = 0; x < width; ++x, colour += 3)
    grey[x] = static_cast<std::uint8_t>(luma(colour[0], colour[1], colour[2]));
}

void grey_from_colour_alpha(const std::uint8_t* colour, std::uint8_t* grey, std::uint32_t width) {
  for (std::uint32_t x = 0; x < width; ++x, colour += 4)
    grey[x] = over_black(luma(colour[0], colour[1], colour[2]), colour[3]);
}

// ---- any kind ----

void grey_from_any(const Parts& parts, const std::uint8_t* row, std::uint8_t* grey, std::uint32_t width) {
  const std::uint32_t shift = parts.header.depth == 16 ? 8 : 0;
  for (std::uint32_t x = 0; x < width; ++x) {
    const Pixel pixel = pixel_at(parts, row, x);
    grey[x] = over_black(luma(pixel.red, pixel.green, pixel.blue) >> shift, pixel.alpha >> shift);
  }
}

void subpixels_from_any(const Parts& parts, const std::uint8_t* row, std::uint8_t* values, std::uint32_t width) {
  const std::uint32_t shift = parts.header.depth == 16 ? 8 : 0;
  for (std::uint32_t x = 0; x < width; ++x) {
    const Pixel pixel = pixel_at(parts, row, x);
    for (const std::uint32_t value : {pixel.red, pixel.green, pixel.blue})
      *values++ = static_cast<std::uint8_t>(value >> shift);
  }
}

}  // namespace

const std::uint8_t* row_values(const Parts& parts, Meaning meaning, const std::uint8_t* row, std::uint32_t width_px,
                               std::vector<std::uint8_t>& values) {
  const auto [size, depth, colour, interlaced] = parts.header;
  const bool keyed = !parts.transparency.empty();
  if (meaning == Meaning::subpixels) {
    if (colour == Colour::rgb && depth == 8) return row;
    subpixels_from_any(parts, row, values.data(), width_px);
  } else if (colour == Colour::grey && depth == 8 && !keyed) {
    return row;
  } else if (colour == Colour::grey && depth == 1 && !keyed) {
    grey_from_bits(row, values.data(), width_px);
  } else if (colour == Colour::rgb && depth == 8 && !keyed) {
    grey_from_colour(row, values.data(), width_px);
  } else if (colour == Colour::rgb_alpha && depth == 8) {
    grey_from_colour_alpha(row, values.data(), width_px);
  } else {
    grey_from_any(parts, row, values.data(), width_px);
  }
  return values.data();
}

}  // namespace hairline::png
