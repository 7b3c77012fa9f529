#include "words.hpp"

#include <fmt/core.h>

#include "hairline/verdict.hpp"

namespace hairline {

std::string plan::counted(std::size_t n, const char* one, const char* many) {
  return fmt::format("{} {}", n, n == 1 ? one : many);
}

std::string plan::parts_and_gaps(std::size_t parts, std::size_t gaps) {
  if (parts == 0 && gaps == 0) return "nothing";
  if (gaps == 0) return counted(parts, "part", "parts");
  if (parts == 0) return counted(gaps, "gap", "gaps");
  return counted(parts, "part", "parts") + " and " + counted(gaps, "gap", "gaps");
}

std::string plan::times_text(const std::vector<double>& times_s) {
  std::string text;
  for (std::size_t i = 0; i < times_s.size(); ++i) {
    if (i > 0) text += i + 1 == times_s.size() ? " and " : ", ";
    text += fmt::format("{:.1f}", times_s[i]);
  }
  return text + " s";
}

bool plan::is_named(const Detail& detail, State state) {
  return detail.lost && detail.state == state && (state == State::will || detail.harm_mm > 0);
}

std::string layers_text(std::uint32_t from_layer, std::uint32_t to_layer, const BoxMm& box) {
  if (from_layer == to_layer) return fmt::format("layer {} ({:.1f} mm up)", from_layer, box.from.z);
  return fmt::format("layers {} to {} ({:.1f} to {:.1f} mm up)", from_layer, to_layer, box.from.z, box.to.z);
}

std::string place_text(const BoxMm& box) {
  return fmt::format("at x {:.1f}, y {:.1f} mm", 0.5 * (box.from.x + box.to.x), 0.5 * (box.from.y + box.to.y));
}

}  // namespace hairline
