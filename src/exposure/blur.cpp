#include "blur.hpp"

#include <algorithm>
#include <array>

#include "../base/vector_clones.hpp"

namespace hairline::exposure {
namespace {

// Sixteen values at a time, in whatever registers the processor has; loads and stores need no alignment.
typedef float Sixteen __attribute__((vector_size(64), may_alias, aligned(4)));
constexpr int step = 16;
constexpr int block = 64;  // columns swept downwards at a time

inline const Sixteen& sixteen(const float* from) {
  return *reinterpret_cast<const Sixteen*>(from);
}
inline Sixteen& sixteen(float* from) {
  return *reinterpret_cast<Sixteen*>(from);
}

inline void put(float* out, const Sixteen& sum, bool first) {
  sixteen(out) = first ? sum : sixteen(out) + sum;
}

// out[i] = sum over k of weight[|k|] * line[i + radius + k]; `line` has radius values before and after.
HAIRLINE_VECTOR_CLONES
void sweep_x(const float* line, const float* weight, int radius, float* out, int width) {
  const float* centre = line + radius;
  int i = 0;
  for (; i + block <= width; i += block) {
    const float* at = centre + i;
    Sixteen a = weight[0] * sixteen(at), b = weight[0] * sixteen(at + step);
    Sixteen c = weight[0] * sixteen(at + 2 * step), d = weight[0] * sixteen(at + 3 * step);
    for (int k = 1; k <= radius; ++k) {
      const float *left = at - k, *right = at + k;
      a += weight[k] * (sixteen(left) + sixteen(right));
      b += weight[k] * (sixteen(left + step) + sixteen(right + step));
      c += weight[k] * (sixteen(left + 2 * step) + sixteen(right + 2 * step));
      d += weight[k] * (sixteen(left + 3 * step) + sixteen(right + 3 * step));
    }
    sixteen(out + i) = a;
    sixteen(out + i + step) = b;
    sixteen(out + i + 2 * step) = c;
    sixteen(out + i + 3 * step) = d;
  }
  for (; i + step <= width; i += step) {
    Sixteen sum = weight[0] * sixteen(centre + i);
    for (int k = 1; k <= radius; ++k) sum += weight[k] * (sixteen(centre + i - k) + sixteen(centre + i + k));
    sixteen(out + i) = sum;
  }
  for (; i < width; ++i) {
    float sum = weight[0] * centre[i];
    for (int k = 1; k <= radius; ++k) sum += weight[k] * (centre[i - k] + centre[i + k]);
    out[i] = sum;
  }
}

// A column block of one output row, from the 2 radius + 1 swept rows around it: share * sum, written by the first part
// of a mixture and added by the others.
HAIRLINE_VECTOR_CLONES
void sweep_y(const float* const* rows, int from, const float* weight, int radius, float share, bool first, float* out,
             int width) {
  int i = 0;
  for (; i + block <= width; i += block) {
    const float* at = rows[radius] + from + i;
    Sixteen a = weight[0] * sixteen(at), b = weight[0] * sixteen(at + step);
    Sixteen c = weight[0] * sixteen(at + 2 * step), d = weight[0] * sixteen(at + 3 * step);
    for (int k = 1; k <= radius; ++k) {
      const float *up = rows[radius - k] + from + i, *down = rows[radius + k] + from + i;
      a += weight[k] * (sixteen(up) + sixteen(down));
      b += weight[k] * (sixteen(up + step) + sixteen(down + step));
      c += weight[k] * (sixteen(up + 2 * step) + sixteen(down + 2 * step));
      d += weight[k] * (sixteen(up + 3 * step) + sixteen(down + 3 * step));
    }
    put(out + i, share * a, first);
    put(out + i + step, share * b, first);
    put(out + i + 2 * step, share * c, first);
    put(out + i + 3 * step, share * d, first);
  }
  for (; i + step <= width; i += step) {
    Sixteen sum = weight[0] * sixteen(rows[radius] + from + i);
    for (int k = 1; k <= radius; ++k)
      sum += weight[k] * (sixteen(rows[radius - k] + from + i) + sixteen(rows[radius + k] + from + i));
    put(out + i, share * sum, first);
  }
  for (; i < width; ++i) {
    float sum = weight[0] * rows[radius][from + i];
    for (int k = 1; k <= radius; ++k) sum += weight[k] * (rows[radius - k][from + i] + rows[radius + k][from + i]);
    out[i] = first ? share * sum : out[i] + share * sum;
  }
}

// Mask value to light.
constexpr auto light_of = [] {
  std::array<float, 256> light{};
  for (std::size_t value = 0; value < light.size(); ++value) light[value] = static_cast<float>(value) / 255.0f;
  return light;
}();

}  // namespace

void Blurrer::begin(const Layer& layer) {
  layer_ = &layer;
  last_ = {};
}

// The runs of one image row that reach into columns [from, from + width).
std::span<const Run> Blurrer::runs_in(int image_row, std::uint32_t& cursor, bool search, int from, int width) const {
  if (image_row < 0 || image_row >= static_cast<int>(layer_->size.height_px)) return {};
  const auto runs = layer_->row(static_cast<std::uint32_t>(image_row));
  const auto left = [from](const Run& run) { return static_cast<int>(run.end) <= from; };
  if (search) cursor = static_cast<std::uint32_t>(std::partition_point(runs.begin(), runs.end(), left) - runs.begin());
  while (cursor < runs.size() && left(runs[cursor])) ++cursor;
  std::size_t end = cursor;
  while (end < runs.size() && static_cast<int>(runs[end].begin) < from + width) ++end;
  return runs.subspan(cursor, end - cursor);
}

// Source rows of a rectangle with the kernel's margin. A row equal to the one before, as far as the rectangle goes, is
// kept once; what was loaded last is not loaded again.
void Blurrer::load(const Kernel& kernel, const Rect& rect) {
  const int margin = kernel.radius_y, rows = rect.height + 2 * margin;
  const int from = rect.x - kernel.radius_x, width = rect.width + 2 * kernel.radius_x;
  const Rect loaded{from, rect.y - margin, width, rows};
  if (loaded == last_) return;
  const bool search = loaded.y != last_.y || rows != last_.height || from < last_.x;
  last_ = loaded;
  cursors_.resize(static_cast<std::size_t>(rows));
  const auto line_size = static_cast<std::size_t>(width);
  if (lines_.size() < line_size * static_cast<std::size_t>(rows))
    lines_.resize(line_size * static_cast<std::size_t>(rows));
  line_of_row_.resize(static_cast<std::size_t>(rows));
  line_count_ = 0;
  std::span<const Run> before;
  for (int i = 0; i < rows; ++i) {
    const int r = rect.y - margin + i;
    const auto at = static_cast<std::size_t>(r);
    std::uint32_t& cursor = cursors_[static_cast<std::size_t>(i)];
    const bool shared =
        i > 0 && r > 0 && r < static_cast<int>(layer_->size.height_px) && layer_->rows[at] == layer_->rows[at - 1];
    if (shared) cursor = cursors_[static_cast<std::size_t>(i - 1)];
    if (!shared) {
      const auto runs = runs_in(r, cursor, search, from, width);
      if (i == 0 || !std::equal(runs.begin(), runs.end(), before.begin(), before.end())) {
        float* line = lines_.data() + line_size * line_count_++;
        std::fill_n(line, width, 0.0f);
        for (const Run& run : runs) {
          const int begin = std::max(static_cast<int>(run.begin) - from, 0);
          const int end = std::min(static_cast<int>(run.end) - from, width);
          const float light = light_of[run.value];
          for (int x = begin; x < end; ++x) line[x] = light;
        }
      }
      before = runs;
    }
    line_of_row_[static_cast<std::size_t>(i)] = line_count_ - 1;
  }
}

void Blurrer::blur(const Kernel& kernel, const Rect& rect, float* out) {
  load(kernel, rect);
  const auto line_size = static_cast<std::size_t>(rect.width + 2 * kernel.radius_x);
  // Swept lines lie an odd number of cache lines apart, so that one block of many of them stays in the cache.
  const auto width = static_cast<std::size_t>(rect.width), apart = width / step / 2 * 2 * step + 3 * step;
  if (swept_.size() < line_count_ * apart) swept_.resize(line_count_ * apart);
  rows_.resize(line_of_row_.size());
  // A row with the same lines around it as the row before, all of them one line, comes out like that row.
  const auto repeats = [&](int y) {
    return y > 0 && line_of_row_[static_cast<std::size_t>(y - 1)] ==
                        line_of_row_[static_cast<std::size_t>(y + 2 * kernel.radius_y)];
  };
  bool first = true;
  for (const KernelPart& part : kernel.parts) {
    const int radius = part.x.radius();
    const auto above = static_cast<std::size_t>(kernel.radius_y - part.y.radius());  // rows this part does not reach
    for (std::size_t i = line_of_row_[above]; i <= line_of_row_[line_of_row_.size() - 1 - above]; ++i) {
      sweep_x(lines_.data() + i * line_size + (kernel.radius_x - radius), part.x.weight.data(), radius,
              swept_.data() + i * apart, rect.width);
    }
    for (std::size_t i = 0; i < rows_.size(); ++i) rows_[i] = swept_.data() + line_of_row_[i] * apart;
    const float* const* around = rows_.data() + kernel.radius_y - part.y.radius();
    for (int x = 0; x < rect.width; x += block) {
      for (int y = 0; y < rect.height; ++y) {
        if (repeats(y)) continue;
        sweep_y(around + y, x, part.y.weight.data(), part.y.radius(), part.share, first,
                out + static_cast<std::size_t>(y) * width + x, std::min(block, rect.width - x));
      }
    }
    first = false;
  }
  for (int y = 1; y < rect.height; ++y)
    if (repeats(y))
      std::copy_n(out + static_cast<std::size_t>(y - 1) * width, width, out + static_cast<std::size_t>(y) * width);
}

}  // namespace hairline::exposure
