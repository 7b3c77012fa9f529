/// Stroke lettering on a grid of our own, 4 wide and 6 tall: each letter is a list of pen lines, `|` lifts the pen,
/// each pair of digits is a column and a row counted from the top left.
///
///      0 1 2 3 4
///    0 . o o o .      "41 30 10 01 05 16 36 45" is the C
///    1 o . . . o
///    2 o . . . .
///    3 o . . . .
///    4 o . . . .
///    5 o . . . o
///    6 . o o o .
#include <array>
#include <string_view>

#include "../base/ascii.hpp"
#include "hairline/draw.hpp"

namespace hairline {
namespace {

constexpr std::array<std::string_view, 26> capitals = {
    "06 02 20 42 46|04 44",                 // A
    "00 06 36 45 44 33 03|00 30 41 42 33",  // B
    "41 30 10 01 05 16 36 45",              // C
    "00 06 36 45 41 30 00",                 // D
    "40 00 06 46|03 33",                    // E
    "40 00 06|03 33",                       // F
    "41 30 10 01 05 16 36 45 43 23",        // G
    "00 06|40 46|03 43",                    // H
    "10 30|20 26|16 36",                    // I
    "40 45 36 16 05",                       // J
    "00 06|40 03 46",                       // K
    "00 06 46",                             // L
    "06 00 23 40 46",                       // M
    "06 00 46 40",                          // N
    "10 30 41 45 36 16 05 01 10",           // O
    "06 00 30 41 42 33 03",                 // P
    "10 30 41 45 36 16 05 01 10|24 46",     // Q
    "06 00 30 41 42 33 03|23 46",           // R
    "41 30 10 01 02 13 33 44 45 36 16 05",  // S
    "00 40|20 26",                          // T
    "00 05 16 36 45 40",                    // U
    "00 26 40",                             // V
    "00 16 23 36 40",                       // W
    "00 46|40 06",                          // X
    "00 23 40|23 26",                       // Y
    "00 40 06 46",                          // Z
};
constexpr std::array<std::string_view, 10> digits = {
    "10 30 41 45 36 16 05 01 10|14 32",                 // 0
    "11 20 26|16 36",                                   // 1
    "01 10 30 41 42 06 46",                             // 2
    "00 40 22 32 43 45 36 16 05",                       // 3
    "36 30 04 44",                                      // 4
    "40 00 02 32 43 45 36 16 05",                       // 5
    "30 20 02 05 16 36 45 44 33 03",                    // 6
    "00 40 16",                                         // 7
    "13 02 01 10 30 41 42 33 13 04 05 16 36 45 44 33",  // 8
    "43 13 02 01 10 30 41 44 26 16",                    // 9
};

std::string_view strokes(char c) {
  if (is_small(c)) return capitals[static_cast<std::size_t>(c - 'a')];
  if (is_capital(c)) return capitals[static_cast<std::size_t>(c - 'A')];
  if (is_digit(c)) return digits[static_cast<std::size_t>(c - '0')];
  if (c == '-') return "13 33";
  if (c == '.') return "26";
  return {};
}

constexpr double letter_width(double height_mm) {
  return 0.6 * height_mm;
}
constexpr double advance(double height_mm, double stroke_mm) {
  return letter_width(height_mm) + 0.15 * height_mm + 0.5 * stroke_mm;
}

/// Draws one letter whose top left corner is `corner`; centre lines stay half a stroke inside its box.
void add_letter(std::vector<OutlineMm>& out, std::string_view lines, PointMm corner, double height_mm,
                double stroke_mm) {
  const double step_x = (letter_width(height_mm) - stroke_mm) / 4, step_y = (height_mm - stroke_mm) / 6;
  bool pen_down = false;
  PointMm last;
  for (std::size_t i = 0; i + 1 < lines.size(); i += 3) {
    const PointMm p{corner.x + stroke_mm / 2 + step_x * (lines[i] - '0'),
                    corner.y + stroke_mm / 2 + step_y * (lines[i + 1] - '0')};
    out.push_back(polygon_outline(p, stroke_mm, 16));
    if (pen_down) out.push_back(bar_outline(last, p, stroke_mm));
    last = p;
    pen_down = i + 2 < lines.size() && lines[i + 2] == ' ';
  }
}

}  // namespace

std::vector<OutlineMm> text_outlines(std::string_view text, PointMm at, double height_mm, double stroke_mm) {
  std::vector<OutlineMm> out;
  PointMm corner{at.x, at.y - height_mm};
  for (const char c : text) {
    add_letter(out, strokes(c), corner, height_mm, stroke_mm);
    corner.x += advance(height_mm, stroke_mm);
  }
  return out;
}

double text_width_mm(std::string_view text, double height_mm, double stroke_mm) {
  if (text.empty()) return 0;
  return static_cast<double>(text.size() - 1) * advance(height_mm, stroke_mm) + letter_width(height_mm);
}

}  // namespace hairline
