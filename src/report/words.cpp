#include "words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace hairline {

std::string rough_text(double amount) {
  if (amount <= 0) return "0";
  if (amount < 0.01) return "under 0.01";
  const int digits = static_cast<int>(std::floor(std::log10(amount) + 1e-9));
  const double step = std::pow(10, digits - 1);
  return fmt::format("{:.{}f}", std::round(amount / step) * step, std::max(0, 1 - digits));
}

std::string cost_text(double cost) {
  return cost > 0 && cost < 0.005 ? "under 0.01" : fmt::format("{:.2f}", cost);
}

std::string exposure_text(double s) {
  return fmt::format("{:.2f} s", s);
}

std::string percent_text(double share) {
  if (share > 0.99) return "over 99 %";
  if (share < 0.01) return "under 1 %";
  return fmt::format("{:.0f} %", 100 * share);
}

std::string length_text(double mm) {
  return fmt::format("{:.{}f}", mm, mm < 0.995 ? 2 : 1);
}

std::string spot_text(const BoxMm& box) {
  const auto span = [](double from, double to) {
    const std::string low = fmt::format("{:.1f}", from), high = fmt::format("{:.1f}", to);
    return low == high ? low : low + " to " + high;
  };
  return fmt::format("x {}, y {} mm", span(box.from.x, box.to.x), span(box.from.y, box.to.y));
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

std::string joined(const std::vector<std::string>& parts, const char* between) {
  std::string text;
  for (const std::string& part : parts)
    if (!part.empty()) text += (text.empty() ? "" : between) + part;
  return text;
}

std::string in_capitals(Verdict verdict) {
  std::string word = to_string(verdict);
  for (char& c : word) c = static_cast<char>(c - 'a' + 'A');
  return word;
}

std::string to_string(Verdict verdict) {
  return word_of(verdict);
}

std::string to_string(Fate fate) {
  return word_of(fate);
}

}  // namespace hairline
