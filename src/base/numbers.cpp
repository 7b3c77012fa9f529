#include "numbers.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>

namespace hairline {

bool Range::holds(double value) const {
  return std::isfinite(value) && value <= high && (above_low ? value > low : value >= low);
}

std::string Range::words(const char* above, const char* from) const {
  return fmt::format(fmt::runtime(above_low ? above : from), low, high, *unit ? fmt::format(" {}", unit) : "");
}

std::string Range::whole_words() const {
  return words("a whole number over {} and up to {}{}", "a whole number from {} to {}{}");
}

std::optional<double> parse_number(const std::string& text) {
  double value = 0;
  const char* end = text.data() + text.size();
  const auto [stop, problem] = std::from_chars(text.data(), end, value);
  if (problem != std::errc() || stop != end || !std::isfinite(value)) return std::nullopt;
  return value;
}

namespace {

double digits_of(double value, int behind_point) {
  if (!std::isfinite(value)) return value;
  double rounded = 0;
  const std::string text = fmt::format("{:.{}e}", value, behind_point);
  std::from_chars(text.data(), text.data() + text.size(), rounded);
  return rounded == 0 ? 0 : rounded;
}

}  // namespace

double six_digits(double value) {
  return digits_of(value, 5);
}
double twelve_digits(double value) {
  return digits_of(value, 11);
}

std::string plain(double value) {
  return fmt::format("{:.4g}", value);
}

}  // namespace hairline
