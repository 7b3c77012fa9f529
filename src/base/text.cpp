#include <fmt/format.h>

#include <algorithm>
#include <cstdint>
#include <numeric>

#include "ascii.hpp"
#include "hairline/files.hpp"

namespace hairline {
namespace {

struct Utf8Step {
  std::size_t bytes = 1;  // how far to go on
  bool valid = false;
  std::uint32_t code = 0;
};

// One character from `bytes[at]` on, by table 3-7 of the Unicode Standard (well-formed UTF-8 byte sequences). For bad
// bytes, `bytes` is the longest beginning of a well-formed sequence, so each one becomes a single U+FFFD.
Utf8Step next_utf8(std::string_view bytes, std::size_t at) {
  const auto byte = [&](std::size_t i) -> std::uint32_t { return static_cast<unsigned char>(bytes[i]); };
  const std::uint32_t lead = byte(at);
  if (lead < 0x80) return {1, true, lead};
  const std::size_t length = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : 2;
  if (lead < 0xC2 || lead > 0xF4) return {};
  std::uint32_t low = 0x80, high = 0xBF;
  if (lead == 0xE0) low = 0xA0;
  if (lead == 0xED) high = 0x9F;
  if (lead == 0xF0) low = 0x90;
  if (lead == 0xF4) high = 0x8F;
  std::uint32_t code = lead & (0x7Fu >> length);
  for (std::size_t i = 1; i < length; ++i) {
    if (at + i >= bytes.size() || byte(at + i) < low || byte(at + i) > high) return {i, false, 0};
    code = (code << 6) | (byte(at + i) & 0x3F);
    low = 0x80;
    high = 0xBF;
  }
  return {length, true, code};
}

// Characters that move the cursor, end a line, turn the direction of writing or are not seen at all: a name could hide
// behind them. Cc, Zl, Zp, Bidi_Control and Default_Ignorable_Code_Point of the Unicode Standard 15
// (DerivedCoreProperties, from memory), and the noncharacters; only the variation selectors FE00 to FE0F, which
// pictures have behind them, stay.
bool harmless(std::uint32_t code) {
  struct Span {
    std::uint32_t from, to;
  };
  constexpr Span unseen[] = {{0x00, 0x1F},       {0x7F, 0x9F},       {0xAD, 0xAD},      {0x34F, 0x34F},
                             {0x61C, 0x61C},     {0x115F, 0x1160},   {0x17B4, 0x17B5},  {0x180B, 0x180F},
                             {0x200B, 0x200F},   {0x2028, 0x202E},   {0x2060, 0x206F},  {0x3164, 0x3164},
                             {0xFDD0, 0xFDEF},   {0xFEFF, 0xFEFF},   {0xFFA0, 0xFFA0},  {0xFFF0, 0xFFFB},
                             {0x1BCA0, 0x1BCA3}, {0x1D173, 0x1D17A}, {0xE0000, 0xE0FFF}};
  if ((code & 0xFFFE) == 0xFFFE) return false;
  return std::none_of(std::begin(unseen), std::end(unseen),
                      [code](const Span& span) { return span.from <= code && code <= span.to; });
}

// How many columns a character takes as `visible` shows it; wide ones count as one.
std::size_t shown_columns(const Utf8Step& step) {
  return step.valid && harmless(step.code) ? 1 : 4 * step.bytes;
}

// Bytes of the beginning of `bytes` that is shown in at most `most` columns.
std::size_t beginning_within(std::string_view bytes, std::size_t most) {
  std::size_t at = 0;
  while (at < bytes.size()) {
    const Utf8Step step = next_utf8(bytes, at);
    const std::size_t columns = shown_columns(step);
    if (columns > most) break;
    most -= columns;
    at += step.bytes;
  }
  return at;
}

std::string_view digits_at(std::string_view text, std::size_t at) {
  std::size_t end = at;
  while (end < text.size() && is_digit(text[end])) ++end;
  return text.substr(at, end - at);
}

std::string_view without_leading_zeros(std::string_view digits) {
  return digits.substr(std::min(digits.find_first_not_of('0'), digits.size()));
}

// <0, 0, >0. Digit groups may be of any length, so they are never turned into an integer.
int compare_digits(std::string_view a, std::string_view b) {
  a = without_leading_zeros(a);
  b = without_leading_zeros(b);
  if (a.size() != b.size()) return a.size() < b.size() ? -1 : 1;
  return a.compare(b);
}

// The optimal string alignment distance: Levenshtein's, and swapped neighbours count as one. Row i of the table holds
// the distances from the first i letters of `a` to every beginning of `b`.
std::size_t differences(std::string_view a, std::string_view b) {
  std::vector<std::size_t> before(b.size() + 1), last(b.size() + 1), row(b.size() + 1);
  std::iota(row.begin(), row.end(), std::size_t{0});
  for (std::size_t i = 1; i <= a.size(); ++i) {
    before.swap(last);
    last.swap(row);
    row[0] = i;
    for (std::size_t j = 1; j <= b.size(); ++j) {
      row[j] = std::min({last[j] + 1, row[j - 1] + 1, last[j - 1] + (a[i - 1] != b[j - 1])});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) row[j] = std::min(row[j], before[j - 2] + 1);
    }
  }
  return row[b.size()];
}

}  // namespace

std::string valid_utf8(std::string_view bytes) {
  std::string text;
  text.reserve(bytes.size());
  for (std::size_t at = 0; at < bytes.size();) {
    const Utf8Step step = next_utf8(bytes, at);
    if (step.valid)
      text += bytes.substr(at, step.bytes);
    else
      text += "\xEF\xBF\xBD";
    at += step.bytes;
  }
  return text;
}

std::string shell_word(std::string word) {
  const bool plain = !word.empty() && word.find_first_not_of(
                                          "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
                                          "0123456789_-./=,:+@%") == std::string::npos;
  if (plain) return word;
  for (std::size_t at = 0; (at = word.find('\'', at)) != std::string::npos; at += 4) word.replace(at, 1, "'\\''");
  return "'" + word + "'";
}

std::string visible(std::string_view bytes) {
  std::string text;
  text.reserve(bytes.size());
  for (std::size_t at = 0; at < bytes.size();) {
    const Utf8Step step = next_utf8(bytes, at);
    const std::string_view part = bytes.substr(at, step.bytes);
    if (step.valid && harmless(step.code)) {
      text += part;
    } else {
      for (const char c : part) text += fmt::format("\\x{:02X}", static_cast<unsigned char>(c));
    }
    at += step.bytes;
  }
  return text;
}

std::string in_short(std::string_view bytes, std::size_t most_columns) {
  if (beginning_within(bytes, most_columns) == bytes.size()) return std::string(bytes);
  const std::size_t kept = most_columns > 3 ? most_columns - 3 : 0, last = kept / 3;
  std::size_t end = bytes.size(), columns = 0;  // of what is left out
  while (end > 0) {
    std::size_t begin = end - 1;
    while (begin > 0 && end - begin < 4 && (static_cast<unsigned char>(bytes[begin]) & 0xC0) == 0x80) --begin;
    if (next_utf8(bytes.substr(0, end), begin).bytes != end - begin) begin = end - 1;
    columns += shown_columns(next_utf8(bytes.substr(0, end), begin));
    if (columns > last) break;
    end = begin;
  }
  const std::string_view head = bytes.substr(0, beginning_within(bytes, kept - last));
  return std::string(head).append("...").append(bytes.substr(end));
}

std::string beginning_of(std::string_view text, std::size_t most_bytes) {
  std::size_t end = std::min(most_bytes, text.size());
  while (end > 0 && end < text.size() && (static_cast<unsigned char>(text[end]) & 0xC0) == 0x80) --end;
  return std::string(text.substr(0, end));
}

std::string without_byte_order_mark(std::string text) {
  if (text.starts_with("\xEF\xBB\xBF")) text.erase(0, 3);
  return text;
}

bool natural_less(std::string_view a, std::string_view b) {
  std::size_t i = 0, j = 0;
  while (i < a.size() && j < b.size()) {
    if (is_digit(a[i]) && is_digit(b[j])) {
      const std::string_view group_a = digits_at(a, i), group_b = digits_at(b, j);
      const int order = compare_digits(group_a, group_b);
      if (order != 0) return order < 0;
      i += group_a.size();
      j += group_b.size();
    } else {
      const auto byte_a = static_cast<unsigned char>(a[i++]), byte_b = static_cast<unsigned char>(b[j++]);
      if (byte_a != byte_b) return byte_a < byte_b;
    }
  }
  if (i < a.size() || j < b.size()) return i >= a.size();
  return a < b;  // equal but for leading zeros: any fixed order will do
}

std::string nearest_name(std::string_view asked, const std::vector<std::string>& names) {
  constexpr std::size_t longest = 100;  // foreign labels may be of any length, and the table grows with both
  std::string nearest;
  std::size_t least = std::max<std::size_t>(1, asked.size() / 3) + 1;
  if (asked.empty() || asked.size() > longest) return nearest;
  const std::string small = small_letters(asked);
  for (const std::string& name : names) {
    const std::size_t longer = std::max(asked.size(), name.size()) - std::min(asked.size(), name.size());
    if (name.empty() || longer >= least) continue;
    const std::size_t count = differences(small, small_letters(name));
    if (count >= least) continue;
    least = count;
    nearest = name;
  }
  return nearest;
}

}  // namespace hairline
