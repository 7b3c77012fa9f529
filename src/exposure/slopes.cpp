#include "slopes.hpp"

#include <algorithm>
#include <cmath>

namespace hairline::exposure {

void Slopes::find(std::uint32_t t, const LayerPlan& plan, const ValueWindow& window, const TileBits& bits,
                  std::vector<float>& slope) {
  const Rect rect = window_rect(context_.grid, t, context_.reach);
  plain_light_.resize(window.value.size());
  wider_light_.resize(window.value.size());
  plain_.blur(rect, plain_light_.data());
  wider_.blur(rect, wider_light_.data());
  slope.assign(tile_px, 0.0f);
  const double settling = 1 - attenuation(context_.model, plan.height_mm);
  for (std::uint32_t y = 0; y < tile_h; ++y) {
    for_each_bit(bits[y], [&](std::uint32_t x) {
      const std::size_t i = darkest(window, static_cast<int>(y), static_cast<int>(x));
      if (!(plain_light_[i] > 0) || !(window.value[i] > 0)) return;
      const double share = std::min(
          1.0, plan.factor * static_cast<double>(plain_light_[i]) / (settling * static_cast<double>(window.value[i])));
      slope[y * tile_w + x] = static_cast<float>(
          -share * std::log(static_cast<double>(wider_light_[i] / plain_light_[i])) / std::log1p(blur_step));
    });
  }
}

std::size_t Slopes::darkest(const ValueWindow& window, int y, int x) const {
  std::size_t least = static_cast<std::size_t>((y + window.reach_y) * window.width + x + window.reach_x);
  for (int dy = -window.reach_y; dy <= window.reach_y; ++dy) {
    for (int dx = -context_.reach.at(dy); dx <= context_.reach.at(dy); ++dx) {
      const auto at = static_cast<std::size_t>((y + window.reach_y + dy) * window.width + x + window.reach_x + dx);
      if (window.value[at] < window.value[least]) least = at;
    }
  }
  return least;
}

}  // namespace hairline::exposure
