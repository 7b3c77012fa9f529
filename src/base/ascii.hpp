/// Letters, digits and blanks of plain text; bytes beyond ASCII are left as they are.
#pragma once
#include <algorithm>
#include <string>
#include <string_view>
#include <vector>

namespace hairline {

inline bool is_digit(char c) {
  return c >= '0' && c <= '9';
}
inline bool is_small(char c) {
  return c >= 'a' && c <= 'z';
}
inline bool is_capital(char c) {
  return c >= 'A' && c <= 'Z';
}
inline bool is_letter(char c) {
  return is_small(c) || is_capital(c);
}

inline std::string small_letters(std::string_view text) {
  std::string small(text);
  for (char& c : small)
    if (is_capital(c)) c = static_cast<char>(c - 'A' + 'a');
  return small;
}

/// Without such characters around it.
inline std::string_view trimmed(std::string_view text, std::string_view blanks = " \t\r") {
  text.remove_prefix(std::min(text.find_first_not_of(blanks), text.size()));
  return text.substr(0, text.find_last_not_of(blanks) + 1);
}

/// A character of HTML text or of an attribute in double quotes.
inline std::string escaped_for_html(char c) {
  return c == '&' ? "&amp;" : c == '<' ? "&lt;" : c == '>' ? "&gt;" : c == '"' ? "&quot;" : std::string(1, c);
}

/// The parts between the separators; one where there is none.
inline std::vector<std::string> cut_at(std::string_view text, char separator) {
  std::vector<std::string> parts;
  for (std::size_t from = 0; from <= text.size();) {
    const std::size_t to = std::min(text.find(separator, from), text.size());
    parts.emplace_back(text.substr(from, to - from));
    from = to + 1;
  }
  return parts;
}

}  // namespace hairline
