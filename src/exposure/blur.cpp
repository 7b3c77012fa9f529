#include "blur.hpp"

#include <algorithm>
#include <cstring>

#include "tiles.hpp"

namespace hairline::exposure {
namespace {

// out[i] = sum over k of weight[|k|] * line[i + radius + k]; `line` has radius values before and after.
HAIRLINE_VECTOR_CLONES
void sweep_x(const float* line, const float* weight, int radius, float* out, int width) {
  const float* centre = line + radius;
  for (int i = 0; i < width; ++i) out[i] = weight[0] * centre[i];
  for (int k = 1; k <= radius; ++k) {
    const float w = weight[k];
    const float* left = centre - k;
    const float* right = centre + k;
    for (int i = 0; i < width; ++i) out[i] += w * (left[i] + right[i]);
  }
}

// One output row from the 2 radius + 1 swept rows around it.
HAIRLINE_VECTOR_CLONES
void sweep_y(const float* const* rows, const float* weight, int radius, float share, bool first, float* out, int width) {
  constexpr int chunk = 64;
  for (int x = 0; x < width; x += chunk) {
    const int n = width - x < chunk ? width - x : chunk;
    float sum[chunk];
    const float* middle = rows[radius] + x;
    for (int i = 0; i < n; ++i) sum[i] = weight[0] * middle[i];
    for (int k = 1; k <= radius; ++k) {
      const float w = weight[k];
      const float* up = rows[radius - k] + x;
      const float* down = rows[radius + k] + x;
      for (int i = 0; i < n; ++i) sum[i] += w * (up[i] + down[i]);
    }
    if (first) {
      for (int i = 0; i < n; ++i) out[x + i] = share * sum[i];
    } else {
      for (int i = 0; i < n; ++i) out[x + i] += share * sum[i];
    }
  }
}

}  // namespace

// Fills one source line (rect.width + 2 radius_x values); false when the row has no light there.
bool Blurrer::load_row(const Rect& rect, int image_row, std::uint32_t& cursor, float* line) const {
  const int margin = kernel_.radius_x, width = rect.width + 2 * margin, from = rect.x - margin;
  std::fill(line, line + width, 0.0f);
  if (image_row < 0 || image_row >= static_cast<int>(layer_.size.height_px)) return false;
  const auto runs = layer_.row(static_cast<std::uint32_t>(image_row));
  while (cursor < runs.size() && static_cast<int>(runs[cursor].end) <= from) ++cursor;
  bool any = false;
  for (std::size_t i = cursor; i < runs.size() && static_cast<int>(runs[i].begin) < from + width; ++i) {
    const int begin = std::max(static_cast<int>(runs[i].begin) - from, 0);
    const int end = std::min(static_cast<int>(runs[i].end) - from, width);
    std::fill(line + begin, line + end, static_cast<float>(runs[i].value) / 255.0f);
    any = true;
  }
  return any;
}

void Blurrer::load(const Rect& rect) {
  const int margin = kernel_.radius_y, rows = rect.height + 2 * margin;
  const auto line_size = static_cast<std::size_t>(rect.width + 2 * kernel_.radius_x);
  if (rect.y != band_y_ || rect.height != band_height_ || rect.x < last_x_) {
    cursors_.assign(static_cast<std::size_t>(rows), 0);
    band_y_ = rect.y;
    band_height_ = rect.height;
  }
  last_x_ = rect.x;
  lines_.resize(line_size * static_cast<std::size_t>(rows + 1));
  line_of_row_.resize(static_cast<std::size_t>(rows));
  int used = 0;
  bool last_empty = false;
  for (int i = 0; i < rows; ++i) {
    float* line = lines_.data() + line_size * static_cast<std::size_t>(used);
    const bool any = load_row(rect, rect.y - margin + i, cursors_[static_cast<std::size_t>(i)], line);
    const bool repeats = used > 0 && ((!any && last_empty) ||
                                      (any && !last_empty && std::memcmp(line, line - line_size, line_size * sizeof(float)) == 0));
    if (!repeats) ++used;
    last_empty = !any;
    line_of_row_[static_cast<std::size_t>(i)] = used - 1;
  }
  lines_.resize(line_size * static_cast<std::size_t>(used));
}

void Blurrer::blur(const Rect& rect, float* out) {
  load(rect);
  const auto line_size = static_cast<std::size_t>(rect.width + 2 * kernel_.radius_x);
  const auto width = static_cast<std::size_t>(rect.width);
  const std::size_t lines = lines_.size() / line_size;
  swept_.resize(lines * width);
  std::vector<const float*> rows(line_of_row_.size());
  bool first = true;
  for (const KernelPart& part : kernel_.parts) {
    const int radius = part.x.radius();
    for (std::size_t i = 0; i < lines; ++i) {
      sweep_x(lines_.data() + i * line_size + (kernel_.radius_x - radius), part.x.weight.data(), radius,
              swept_.data() + i * width, rect.width);
    }
    for (std::size_t i = 0; i < rows.size(); ++i) rows[i] = swept_.data() + static_cast<std::size_t>(line_of_row_[i]) * width;
    for (int y = 0; y < rect.height; ++y) {
      sweep_y(rows.data() + y + kernel_.radius_y - part.y.radius(), part.y.weight.data(), part.y.radius(), part.share,
              first, out + static_cast<std::size_t>(y) * width, rect.width);
    }
    first = false;
  }
}

}  // namespace hairline::exposure
