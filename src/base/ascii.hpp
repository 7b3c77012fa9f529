/// Letters, digits and blanks of plain text; bytes beyond ASCII are left as they are.
#pragma once
#include <string>
#include <string_view>

namespace hairline {

inline bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

inline std::string small_letters(std::string_view text) {
  std::string small(text);
  for (char& c : small)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return small;
}

/// Without blanks, tabs and carriage returns around it.
inline std::string_view trimmed(std::string_view text) {
  const auto blank = [](char c) { return c == ' ' || c == '\t' || c == '\r'; };
  while (!text.empty() && blank(text.front())) text.remove_prefix(1);
  while (!text.empty() && blank(text.back())) text.remove_suffix(1);
  return text;
}

}  // namespace hairline
