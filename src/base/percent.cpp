#include "percent.hpp"

#include <fmt/format.h>

#include <charconv>

#include "ascii.hpp"

namespace hairline {

std::string percent_coded(std::string_view bytes) {
  std::string text;
  for (const char c : bytes) {
    const bool plain = is_letter(c) || is_digit(c) || c == '.' || c == '-' || c == '_' || c == '~';
    text += plain ? std::string(1, c) : fmt::format("%{:02X}", static_cast<unsigned char>(c));
  }
  return text;
}

std::optional<std::string> percent_decoded(std::string_view text) {
  std::string bytes;
  for (std::size_t at = 0; at < text.size(); ++at) {
    if (text[at] != '%') {
      bytes += text[at];
      continue;
    }
    const std::string_view digits = text.substr(at + 1, 2);
    unsigned byte = 0;
    const auto [stop, problem] = std::from_chars(digits.data(), digits.data() + digits.size(), byte, 16);
    if (digits.size() != 2 || problem != std::errc() || stop != digits.data() + 2) return std::nullopt;
    bytes += static_cast<char>(byte);
    at += 2;
  }
  return bytes;
}

}  // namespace hairline
