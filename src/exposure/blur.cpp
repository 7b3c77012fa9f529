#include "blur.hpp"

#include <algorithm>
#include <cstring>

#include "tiles.hpp"

namespace hairline::exposure {
namespace {

// Eight values at a time, in whatever registers the processor has; loads and stores need no alignment.
typedef float Eight __attribute__((vector_size(32), may_alias, aligned(4)));
constexpr int step = 16;

inline const Eight& eight(const float* from) {
  return *reinterpret_cast<const Eight*>(from);
}
inline Eight& eight(float* from) {
  return *reinterpret_cast<Eight*>(from);
}

// out[i] = sum over k of weight[|k|] * line[i + radius + k]; `line` has radius values before and after.
HAIRLINE_VECTOR_CLONES
void sweep_x(const float* line, const float* weight, int radius, float* out, int width) {
  const float* centre = line + radius;
  int i = 0;
  for (; i + step <= width; i += step) {
    Eight a = weight[0] * eight(centre + i), b = weight[0] * eight(centre + i + 8);
    for (int k = 1; k <= radius; ++k) {
      a += weight[k] * (eight(centre + i - k) + eight(centre + i + k));
      b += weight[k] * (eight(centre + i + 8 - k) + eight(centre + i + 8 + k));
    }
    eight(out + i) = a;
    eight(out + i + 8) = b;
  }
  for (; i < width; ++i) {
    float sum = weight[0] * centre[i];
    for (int k = 1; k <= radius; ++k) sum += weight[k] * (centre[i - k] + centre[i + k]);
    out[i] = sum;
  }
}

// One output row from the 2 radius + 1 swept rows around it: share * sum, written by the first part of a mixture and
// added by the others.
HAIRLINE_VECTOR_CLONES
void sweep_y(const float* const* rows, const float* weight, int radius, float share, bool first, float* out,
             int width) {
  int i = 0;
  for (; i + step <= width; i += step) {
    Eight a = weight[0] * eight(rows[radius] + i), b = weight[0] * eight(rows[radius] + i + 8);
    for (int k = 1; k <= radius; ++k) {
      const float *up = rows[radius - k] + i, *down = rows[radius + k] + i;
      a += weight[k] * (eight(up) + eight(down));
      b += weight[k] * (eight(up + 8) + eight(down + 8));
    }
    a *= share;
    b *= share;
    eight(out + i) = first ? a : eight(out + i) + a;
    eight(out + i + 8) = first ? b : eight(out + i + 8) + b;
  }
  for (; i < width; ++i) {
    float sum = weight[0] * rows[radius][i];
    for (int k = 1; k <= radius; ++k) sum += weight[k] * (rows[radius - k][i] + rows[radius + k][i]);
    out[i] = first ? share * sum : out[i] + share * sum;
  }
}

}  // namespace

// The runs of one image row that reach into columns [from, from + width); the cursor moves past those left of it.
std::span<const Run> Blurrer::runs_in(int image_row, std::uint32_t& cursor, int from, int width) const {
  if (image_row < 0 || image_row >= static_cast<int>(layer_.size.height_px)) return {};
  const auto runs = layer_.row(static_cast<std::uint32_t>(image_row));
  while (cursor < runs.size() && static_cast<int>(runs[cursor].end) <= from) ++cursor;
  std::size_t end = cursor;
  while (end < runs.size() && static_cast<int>(runs[end].begin) < from + width) ++end;
  return runs.subspan(cursor, end - cursor);
}

// Source rows of a rectangle with the kernel's margin. A row equal to the one before, as far as the rectangle goes, is
// kept once.
void Blurrer::load(const Rect& rect) {
  const int margin = kernel_.radius_y, rows = rect.height + 2 * margin;
  const int from = rect.x - kernel_.radius_x, width = rect.width + 2 * kernel_.radius_x;
  if (rect.y != band_y_ || rect.height != band_height_ || rect.x < last_x_) {
    cursors_.assign(static_cast<std::size_t>(rows), 0);
    band_y_ = rect.y;
    band_height_ = rect.height;
  }
  last_x_ = rect.x;
  const auto line_size = static_cast<std::size_t>(width);
  if (lines_.size() < line_size * static_cast<std::size_t>(rows))
    lines_.resize(line_size * static_cast<std::size_t>(rows));
  line_of_row_.resize(static_cast<std::size_t>(rows));
  line_count_ = 0;
  std::span<const Run> before;
  for (int i = 0; i < rows; ++i) {
    const auto runs = runs_in(rect.y - margin + i, cursors_[static_cast<std::size_t>(i)], from, width);
    if (i == 0 || !std::equal(runs.begin(), runs.end(), before.begin(), before.end())) {
      float* line = lines_.data() + line_size * static_cast<std::size_t>(line_count_++);
      std::memset(line, 0, line_size * sizeof(float));
      for (const Run& run : runs) {
        const int begin = std::max(static_cast<int>(run.begin) - from, 0),
                  end = std::min(static_cast<int>(run.end) - from, width);
        const float light = static_cast<float>(run.value) / 255.0f;
        for (int x = begin; x < end; ++x) line[x] = light;
      }
    }
    before = runs;
    line_of_row_[static_cast<std::size_t>(i)] = line_count_ - 1;
  }
}

void Blurrer::blur(const Rect& rect, float* out) {
  load(rect);
  const auto line_size = static_cast<std::size_t>(rect.width + 2 * kernel_.radius_x);
  const auto width = static_cast<std::size_t>(rect.width), lines = static_cast<std::size_t>(line_count_);
  if (swept_.size() < lines * width) swept_.resize(lines * width);
  rows_.resize(line_of_row_.size());
  bool first = true;
  for (const KernelPart& part : kernel_.parts) {
    const int radius = part.x.radius();
    for (std::size_t i = 0; i < lines; ++i) {
      sweep_x(lines_.data() + i * line_size + (kernel_.radius_x - radius), part.x.weight.data(), radius,
              swept_.data() + i * width, rect.width);
    }
    for (std::size_t i = 0; i < rows_.size(); ++i)
      rows_[i] = swept_.data() + static_cast<std::size_t>(line_of_row_[i]) * width;
    for (int y = 0; y < rect.height; ++y) {
      sweep_y(rows_.data() + y + kernel_.radius_y - part.y.radius(), part.y.weight.data(), part.y.radius(), part.share,
              first, out + static_cast<std::size_t>(y) * width, rect.width);
    }
    first = false;
  }
}

}  // namespace hairline::exposure
