#include "greys.hpp"

#include <algorithm>

namespace hairline::inner {

void Greys::begin(const Layer* layer) {
  layer_ = nullptr;
  columns_ = false;
  if (layer == nullptr) return;
  const auto is_grey = [](const Run& run) { return run.value != 255; };
  if (std::none_of(layer->runs.begin(), layer->runs.end(), is_grey)) return;
  layer_ = layer;
  hint_.assign(layer->rows.size(), 0);
  column_changes_.assign(layer->size.width_px + 1, 0);
  for (const Run& run : layer->runs) {
    if (!is_grey(run)) continue;
    column_changes_[run.begin] = 1;
    column_changes_[run.end] = 1;
  }
}

/// Neighbouring reads lie close together, so the search starts where the last one in this row ended.
std::uint8_t Greys::value(std::int64_t line, std::int64_t at) {
  const std::int64_t row = columns_ ? at : line, col = columns_ ? line : at;
  if (row < 0 || row >= layer_->size.height_px || col < 0) return 0;
  const RowRange range = layer_->rows[static_cast<std::size_t>(row)];
  if (range.empty()) return 0;
  const Run* const runs = layer_->runs.data() + range.first;
  const std::uint32_t last = range.last - range.first - 1;
  std::uint32_t& i = hint_[static_cast<std::size_t>(row)];
  constexpr std::uint32_t near = 4;
  for (std::uint32_t step = 0; i < last && runs[i].end <= col; ++step, ++i) {
    if (step == near) {
      i = static_cast<std::uint32_t>(
          std::upper_bound(runs + i, runs + last, col, [](std::int64_t c, const Run& run) { return c < run.end; }) -
          runs);
      break;
    }
  }
  for (std::uint32_t step = 0; i > 0 && runs[i - 1].end > col; ++step, --i) {
    if (step == near) {
      i = static_cast<std::uint32_t>(
          std::upper_bound(runs, runs + i, col, [](std::int64_t c, const Run& run) { return c < run.end; }) - runs);
      break;
    }
  }
  return runs[i].begin <= col && col < runs[i].end ? runs[i].value : 0;
}

/// How much of a pixel belongs to the phase, 0..1.
float Greys::share(std::uint32_t line, std::int64_t at, bool solid) {
  const std::uint8_t v = value(line, at);
  return static_cast<float>(solid ? v : 255 - v) / 255.0f;
}

/// What the two pixels beyond a run's edge add to it: `at` is the nearer, `step` leads away. A pixel between two runs
/// of the phase adds half to each.
float Greys::outside(std::uint32_t line, std::int64_t at, int step, bool solid) {
  const float first = share(line, at, solid);
  if (first == 0) return 0;
  const float second = share(line, at + step, solid);
  if (second >= 0.5f) return first / 2;
  if (second == 0 || second >= first || share(line, at + 2 * step, solid) >= 0.5f) return first;
  return first + second;
}

/// What the two pixels within a run's edge lack: `at` is the outermost, `step` leads inwards. Wide dim areas lack
/// nothing: only what rises from the edge counts.
float Greys::missing(std::uint32_t line, std::int64_t at, int step, std::uint32_t length, bool solid) {
  const float first = 1 - share(line, at, solid);
  if (first == 0) return 0;
  if (length == 1) return first / 2;
  if (length == 2) return first;
  const float second = 1 - share(line, at + step, solid);
  if (length == 3) return first + second / 2;
  if (length == 4) return first + second;
  if (first <= second) return 0;
  if (second == 0) return first;
  return share(line, at + 2 * step, solid) > 1 - second ? first + second : first;
}

Boundaries Greys::boundaries(std::uint32_t line, std::uint32_t begin, std::uint32_t end, bool solid) {
  const auto left = static_cast<std::int64_t>(begin), right = static_cast<std::int64_t>(end) - 1;
  const std::uint32_t length = end - begin;
  const float more_left = outside(line, left - 1, -1, solid) - missing(line, left, 1, length, solid);
  const float more_right = outside(line, right + 1, 1, solid) - missing(line, right, -1, length, solid);
  return {static_cast<float>(begin) - to_grain(more_left), static_cast<float>(end) + to_grain(more_right)};
}

}  // namespace hairline::inner
