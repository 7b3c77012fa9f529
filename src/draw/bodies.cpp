#include "bodies.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <string>

namespace hairline::draw {
namespace {

/// Lengths are in 1/65536 of a pixel, so that they are whole numbers.
using Fixed = std::int64_t;
constexpr Fixed one_px = 65536;

constexpr Fixed rib_spacing_px = 56, least_rib_px = 3, rib_kinds = 4;
constexpr Fixed gyroid_cell_px = 96, gyroid_wall_px = 8;
constexpr int shell_px = 4;
constexpr Fixed dither_wave_px = 96;
constexpr int dither_dot_bits = 1;  // dots of 2 x 2 pixels
constexpr double letter_height_px = 16, letter_stroke_px = 2.5, line_px = 22, letters_margin_px = 8;
constexpr std::uint32_t letters_period = 12, letters_depth = 8;  // layers

Fixed fixed(double px) {
  return std::llround(px * static_cast<double>(one_px));
}

/// Remainder of the same sign as `by`, which is positive.
Fixed remainder(Fixed x, Fixed by) {
  const Fixed r = x % by;
  return r < 0 ? r + by : r;
}

/// How much of a pixel a wall of `width` covers whose middle is `away` from the pixel's, as if seen head-on.
std::uint8_t coverage(Fixed away, Fixed width) {
  return static_cast<std::uint8_t>(std::clamp<Fixed>(width / 2 - away + one_px / 2, 0, one_px) * 255 / one_px);
}

/// Ribs of 3, 6, 9 and 12 pixels side by side, again and again.
std::uint8_t rib(Fixed across) {
  constexpr Fixed spacing = rib_spacing_px * one_px;
  const Fixed at = remainder(across, rib_kinds * spacing);
  return coverage(std::abs(at % spacing - spacing / 2), (1 + at / spacing) * least_rib_px * one_px);
}

/// Two sets of parallel ribs, square to each other, that turn about the body's middle, every other body the other way.
struct Ribs {
  Fixed cosine, sine;
  Ribs(double turn_px, std::uint32_t body, std::uint32_t number, Size size) {
    const double angle = number * turn_px * 2 / size.width_px, sense = body % 2 == 0 ? 1 : -1;
    cosine = fixed(std::cos(sense * angle + 0.2 * body));
    sine = fixed(std::sin(sense * angle + 0.2 * body));
  }
  std::uint8_t at(int x, int y) const { return std::max(rib(x * cosine + y * sine), rib(y * cosine - x * sine)); }
};

/// Sine of a turn cut into 1024, times 16384.
const std::array<int, 1024>& sines() {
  static const std::array<int, 1024> table = [] {
    std::array<int, 1024> out{};
    for (std::size_t i = 0; i < out.size(); ++i)
      out[i] = static_cast<int>(std::lround(16384 * std::sin(2 * std::numbers::pi * static_cast<double>(i) / 1024)));
    return out;
  }();
  return table;
}

/// sin x cos y + sin y cos z + sin z cos x = 0 with a thickness, for which its slope is taken to be 1.2 per radian
/// everywhere, so walls are thinner where it is more.
struct Gyroid {
  Fixed z;
  Gyroid(double turn_px, std::uint32_t body, std::uint32_t number) : z(fixed(number * turn_px + 7.0 * body)) {}
  std::uint8_t at(int x, int y) const {
    const auto sine = [](Fixed px, Fixed quarter) -> Fixed {
      return sines()[static_cast<std::size_t>(
          remainder(px * 1024 / gyroid_cell_px + quarter * 256 * one_px, 1024 * one_px) / one_px)];
    };
    const Fixed fx = x * one_px, fy = y * one_px;
    const Fixed sum = sine(fx, 0) * sine(fy, 1) + sine(fy, 0) * sine(z, 1) + sine(z, 0) * sine(fx, 1);
    constexpr double px_per_slope = gyroid_cell_px / (2 * std::numbers::pi * 1.2);
    constexpr auto scale = static_cast<Fixed>(px_per_slope * 256);  // of sums times 16384 squared, to 1/65536 px
    return coverage(std::abs(sum) * scale / (256 * 4096), gyroid_wall_px * one_px);
  }
};

/// Shades that rise and fall in waves across the body, as dots by an ordered threshold (Bayer, An optimum method for
/// two-level rendition of continuous-tone pictures, 1973).
struct Dither {
  Fixed shift;
  Dither(double turn_px, std::uint32_t body, std::uint32_t number) : shift(fixed(number * turn_px + 5.0 * body)) {}
  std::uint8_t at(int x, int y) const {
    constexpr Fixed wave = dither_wave_px * one_px;
    const Fixed phase = remainder((x + y) * one_px + shift, wave);
    const Fixed shade = std::min(phase, wave - phase) * 128 / wave;  // 0 to 64
    return shade > threshold(x >> dither_dot_bits, y >> dither_dot_bits) ? 255 : 0;
  }
  /// 0 to 63: of the bits of x ^ y and y, the lowest count most.
  static int threshold(int x, int y) {
    int out = 0;
    for (int bit = 0; bit < 3; ++bit) out = 4 * out + 2 * (((x ^ y) >> bit) & 1) + ((y >> bit) & 1);
    return out;
  }
};

/// A block with lines of letters sunk into it, again and again; within one sinking they slant.
std::vector<std::uint8_t> lettered_block(double turn_px, std::uint32_t number, Size size) {
  Canvas canvas(size, {1, 1});
  const double width = size.width_px, height = size.height_px;
  canvas.fill_box({0, 0}, {width, height});
  const std::uint32_t depth = number % letters_period;
  if (depth >= letters_depth) return decode(canvas.take());
  const std::string text = "HARBOUR MUSEUM WORKSHOP 1907 LIGHTHOUSE QUAY ";
  const double advance =
      text_width_mm("AA", letter_height_px, letter_stroke_px) - text_width_mm("A", letter_height_px, letter_stroke_px);
  const auto count = static_cast<std::size_t>(std::max(0.0, (width - 2 * letters_margin_px) / advance - 1));
  const double from = letters_margin_px + std::fmod(depth * turn_px, advance);
  std::string line;
  std::vector<OutlineMm> outlines;
  for (double base = letters_margin_px + letter_height_px; base + letters_margin_px < height; base += line_px) {
    while (line.size() < count + text.size()) line += text;
    for (OutlineMm& o : text_outlines(line.substr(0, count), {from, base}, letter_height_px, letter_stroke_px))
      outlines.push_back(std::move(o));
    line.erase(0, 7);
  }
  canvas.cut(outlines, Overlap::join);
  return decode(canvas.take());
}

/// Every pixel from the pattern; x and y are counted from the body's middle. A shell of full pixels holds it together.
template <class Pattern>
std::vector<std::uint8_t> filled(Size size, const Pattern& pattern) {
  std::vector<std::uint8_t> pixels;
  pixels.reserve(std::size_t{size.width_px} * size.height_px);
  const int width = static_cast<int>(size.width_px), height = static_cast<int>(size.height_px);
  for (int y = 0; y < height; ++y) {
    for (int x = 0; x < width; ++x) {
      const bool shell = std::min({x, y, width - 1 - x, height - 1 - y}) < shell_px;
      pixels.push_back(shell ? 255 : pattern.at(x - width / 2, y - height / 2));
    }
  }
  return pixels;
}

std::vector<std::uint8_t> draw_grey(const PlateSettings& s, std::uint32_t body, std::uint32_t number, Size size) {
  switch (s.kind) {
    case PlateKind::turning:
      return filled(size, Ribs(s.turn_px, body, number, size));
    case PlateKind::gyroid:
      return filled(size, Gyroid(s.turn_px, body, number));
    case PlateKind::dithered:
      return filled(size, Dither(s.turn_px, body, number));
    default:
      return lettered_block(s.turn_px, number, size);
  }
}

}  // namespace

std::vector<std::uint8_t> draw_body(const PlateSettings& s, std::uint32_t body, std::uint32_t number, Size size) {
  std::vector<std::uint8_t> pixels = draw_grey(s, body, number, size);
  if (s.edges == Edges::hard) {
    for (std::uint8_t& v : pixels) v = v >= solid_from ? 255 : 0;
  }
  return pixels;
}

}  // namespace hairline::draw
