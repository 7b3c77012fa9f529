#include <fmt/format.h>

#include <algorithm>

#include "hairline/report.hpp"

namespace hairline {
namespace {

std::string left_text(std::uint32_t done, std::uint32_t total, double elapsed_s) {
  // A rate from the first moments says little.
  if (done == 0 || elapsed_s < 0.5) return {};
  const double per_s = done / elapsed_s;
  return fmt::format(", {:.0f} layers/s, {} left", per_s, duration_text((total - done) / per_s));
}

}  // namespace

std::string progress_text(std::uint32_t done, std::uint32_t total, double elapsed_s, std::uint32_t columns) {
  if (total == 0) return "reading";
  done = std::min(done, total);
  const std::string numbers = fmt::format(" {} of {}{}", done, total, left_text(done, total, elapsed_s));
  const std::size_t room = columns > numbers.size() + 1 ? columns - numbers.size() - 1 : 0;
  const std::size_t bar = std::min<std::size_t>(room, 30);
  const std::size_t full = static_cast<std::size_t>(bar * static_cast<std::uint64_t>(done) / total);
  std::string text = std::string(full, '#') + std::string(bar - full, '.') + numbers;
  if (columns > 0 && text.size() >= columns) text.resize(columns - 1);
  return text;
}

}  // namespace hairline
