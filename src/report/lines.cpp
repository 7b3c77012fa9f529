#include "lines.hpp"

#include <algorithm>

#include "../base/ascii.hpp"

namespace hairline {
namespace {

struct Character {
  std::size_t bytes = 1, columns = 1;
};

bool within(std::uint32_t code, std::uint32_t from, std::uint32_t to) {
  return code >= from && code <= to;
}

// Widths as in the Unicode Standard, annex 11 (wide and fullwidth blocks, coarsely).
std::size_t columns_of(std::uint32_t code) {
  if (within(code, 0x300, 0x36F) || within(code, 0x200B, 0x200D) || within(code, 0xFE00, 0xFE0F)) return 0;
  const bool wide = within(code, 0x1100, 0x115F) || within(code, 0x2E80, 0xA4CF) || within(code, 0xAC00, 0xD7A3) ||
                    within(code, 0xF900, 0xFAFF) || within(code, 0xFE30, 0xFE6F) || within(code, 0xFF00, 0xFF60) ||
                    within(code, 0xFFE0, 0xFFE6) || within(code, 0x1F300, 0x1FAFF) || within(code, 0x20000, 0x3FFFD);
  return wide ? 2 : 1;
}

// Shown text went through `visible`, so it is well-formed UTF-8.
Character character_at(std::string_view text, std::size_t at) {
  const auto lead = static_cast<unsigned char>(text[at]);
  if (lead < 0x80) return {};
  const std::size_t bytes = std::min<std::size_t>(lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : 2, text.size() - at);
  std::uint32_t code = lead & (0x7Fu >> bytes);
  for (std::size_t i = 1; i < bytes; ++i) code = (code << 6) | (static_cast<unsigned char>(text[at + i]) & 0x3Fu);
  return {bytes, columns_of(code)};
}

// Bytes of the longest beginning of `text` that fits, at least one character.
std::size_t bytes_that_fit(std::string_view text, std::size_t columns) {
  std::size_t at = 0, used = 0;
  while (at < text.size()) {
    const Character next = character_at(text, at);
    if (at > 0 && used + next.columns > columns) break;
    at += next.bytes;
    used += next.columns;
  }
  return at;
}

// Where the word that begins at `begin` ends; a unit stays with its number, a number with its x or y.
std::size_t end_of_word(std::string_view text, std::size_t begin) {
  const auto word_end = [text](std::size_t from) { return std::min(text.find(' ', from), text.size()); };
  std::size_t end = word_end(begin);
  while (end == begin + 1 && (text[begin] == 'x' || text[begin] == 'y') && end + 1 < text.size() &&
         text[end + 1] != ' ') {
    begin = end + 1;
    end = word_end(begin);
  }
  if (!is_digit(text[end - 1]) || end + 1 >= text.size()) return end;
  const std::string_view next = text.substr(end + 1, text.find(' ', end + 1) - (end + 1));
  const std::string_view unit = next.substr(0, next.find_last_not_of(".,;:)") + 1);
  for (const std::string_view known : {"%", "s", "min", "h", "mm", "mm2", "mm3", "ml", "g", "px"})
    if (unit == known) return end + 1 + next.size();
  return end;
}

}  // namespace

std::size_t width_of(std::string_view text) {
  std::size_t columns = 0;
  for (std::size_t at = 0; at < text.size();) {
    const Character next = character_at(text, at);
    at += next.bytes;
    columns += next.columns;
  }
  return columns;
}

std::string padded(std::string text, std::size_t columns) {
  const std::size_t width = width_of(text);
  if (width < columns) text.append(columns - width, ' ');
  return text;
}

std::string padded_left(std::string text, std::size_t columns) {
  const std::size_t width = width_of(text);
  if (width < columns) text.insert(0, columns - width, ' ');
  return text;
}

std::string shortened(std::string_view text, std::size_t columns) {
  if (width_of(text) <= columns) return std::string(text);
  return std::string(text.substr(0, bytes_that_fit(text, columns > 3 ? columns - 3 : 1))) + "...";
}

std::vector<std::string> wrapped(std::string_view text, std::size_t columns) {
  std::vector<std::string> lines;
  std::string line;
  std::size_t used = 0;
  const auto end_line = [&] {
    lines.push_back(std::move(line));
    line.clear();
    used = 0;
  };
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t begin = text.find_first_not_of(' ', at);
    if (begin == std::string_view::npos) break;
    const std::size_t end = end_of_word(text, begin);
    std::string_view word = text.substr(begin, end - begin);
    if (used > 0 && used + 1 + width_of(word) > columns) end_line();
    for (std::size_t bytes; (bytes = bytes_that_fit(word, columns)) < word.size();) {
      line = word.substr(0, bytes);
      word.remove_prefix(bytes);
      end_line();
    }
    if (used > 0) line += ' ', ++used;
    line += word;
    used += width_of(word);
    at = end;
  }
  if (!line.empty() || lines.empty()) lines.push_back(std::move(line));
  return lines;
}

}  // namespace hairline
