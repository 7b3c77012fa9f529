// A page of plain text for a terminal: wrapped to a width, aligned, coloured only when asked. Internal to src/report.
#pragma once
#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "hairline/report.hpp"

namespace hairline {

// What a piece of text means; the page decides how that looks.
enum class Tone : std::uint8_t { plain, strong, quiet, good, doubtful, bad };

// Columns a terminal needs for UTF-8 text: wide East Asian characters and pictures take two, combining marks none.
std::size_t width_of(std::string_view text);
// Pads with spaces to `columns`; longer text stays as it is.
std::string padded(std::string text, std::size_t columns);
std::string padded_left(std::string text, std::size_t columns);
// Cut to at most `columns`, the last three as dots.
std::string shortened(std::string_view text, std::size_t columns);
// Lines of at most `columns`; a unit stays with its number, words longer than a line are cut.
std::vector<std::string> wrapped(std::string_view text, std::size_t columns);

class Page {
 public:
  explicit Page(const TerminalStyle& style);
  std::size_t columns() const { return columns_; }
  void gap() { text_ += '\n'; }
  // One line as it stands, for tables; the caller keeps it within columns().
  void line(std::string_view text, Tone tone = Tone::plain);
  void heading(std::string_view title);
  void paragraph(std::string_view text, std::size_t indent = 0, Tone tone = Tone::plain);
  // `lead` once, and the text beside it, aligned under itself when it wraps.
  void beside(std::string_view lead, std::string_view text, Tone lead_tone = Tone::plain, Tone tone = Tone::plain);
  // Another page's lines, below this one's.
  void add(const Page& page) { text_ += page.text_; }
  std::size_t lines() const { return static_cast<std::size_t>(std::count(text_.begin(), text_.end(), '\n')); }
  std::string take() { return std::move(text_); }

 private:
  std::string toned(std::string_view text, Tone tone) const;
  std::size_t columns_;
  bool colour_;
  std::string text_;
};

}  // namespace hairline
