#include "words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <cmath>

#include "hairline/report.hpp"

namespace hairline {

std::string mm_text(double mm) {
  return fmt::format("{:.2f}", std::abs(mm) < 0.005 ? 0.0 : mm);
}

std::string amount_text(double amount) {
  if (amount <= 0) return "0";
  if (amount < 0.001) return "under 0.001";
  if (amount < 0.0995) return fmt::format("{:.3f}", amount);
  if (amount < 9.995) return fmt::format("{:.2f}", amount);
  if (amount < 99.95) return fmt::format("{:.1f}", amount);
  return fmt::format("{:.0f}", amount);
}

std::string exposure_text(double s) {
  return fmt::format("{:.2f} s", s);
}

std::string percent_text(double share) {
  if (share > 0.99) return "over 99 %";
  if (share < 0.01) return "under 1 %";
  return fmt::format("{:.0f} %", 100 * share);
}

std::string number_text(double value) {
  return fmt::format("{:.4g}", value);
}

std::string layers_text(std::uint32_t from, std::uint32_t to) {
  return from == to ? fmt::format("layer {}", from) : fmt::format("layers {} to {}", from, to);
}

std::string range_text(double from, double to) {
  const std::string low = mm_text(from), high = mm_text(to);
  return low == high ? low : low + " to " + high;
}

std::string spot_text(const BoxMm& box) {
  return fmt::format("x {}, y {} mm", range_text(box.from.x, box.to.x), range_text(box.from.y, box.to.y));
}

std::string height_text(const BoxMm& box) {
  return range_text(box.from.z, box.to.z) + " mm up";
}

std::string count_text(std::uint64_t count, const char* one, const char* many) {
  return fmt::format("{} {}", count, count == 1 ? one : many);
}

std::string capitalised(std::string text) {
  if (!text.empty()) text[0] = static_cast<char>(std::toupper(static_cast<unsigned char>(text[0])));
  return text;
}

std::string duration_text(double seconds) {
  if (!(seconds > 0)) return "0 s";
  const auto whole = static_cast<std::uint64_t>(std::llround(std::min(seconds, 1e15)));
  if (whole < 60) return fmt::format("{} s", whole);
  const std::uint64_t minutes = (whole + 30) / 60;
  if (whole < 600) {
    const std::uint64_t rest = whole % 60;
    return rest == 0 ? fmt::format("{} min", whole / 60) : fmt::format("{} min {} s", whole / 60, rest);
  }
  if (minutes < 60) return fmt::format("{} min", minutes);
  return minutes % 60 == 0 ? fmt::format("{} h", minutes / 60) : fmt::format("{} h {} min", minutes / 60, minutes % 60);
}

std::string to_string(Verdict verdict) {
  switch (verdict) {
    case Verdict::clear:
      return "clear";
    case Verdict::caution:
      return "caution";
    case Verdict::hold:
      return "hold";
  }
  return "hold";
}

std::string to_string(Fate fate) {
  return fate == Fate::vanish ? "vanish" : "fuse";
}

}  // namespace hairline
