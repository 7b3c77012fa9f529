/// Blur of one layer in rectangles, straight from runs.
#pragma once
#include <cstdint>
#include <span>
#include <vector>

#include "hairline/layer.hpp"
#include "kernel.hpp"

namespace hairline::exposure {

/// Pixels of a rectangle; may reach outside the image, where there is no light.
struct Rect {
  int x = 0, y = 0, width = 0, height = 0;
};

/// Blurs rectangles of one layer. Holds the scratch rows, so one object serves one thread at a time.
///
/// Rectangles of one band (same y and height) asked for from left to right cost only the runs they touch.
class Blurrer {
 public:
  Blurrer(const Kernel& kernel, const Layer& layer) : kernel_(kernel), layer_(layer) {}
  /// out: rect.width * rect.height values, row-major.
  void blur(const Rect& rect, float* out);

 private:
  void load(const Rect& rect);
  std::span<const Run> runs_in(int image_row, std::uint32_t& cursor, int from, int width) const;
  const Kernel& kernel_;
  const Layer& layer_;
  std::vector<float> lines_;  // source rows as light; rows that repeat are stored once
  int line_count_ = 0;
  std::vector<int> line_of_row_;
  std::vector<float> swept_;  // the same lines after the x pass
  std::vector<const float*> rows_;
  std::vector<std::uint32_t> cursors_;  // per source row: first run that may reach into the rectangle
  int band_y_ = -1, band_height_ = -1, last_x_ = -1;
};

}  // namespace hairline::exposure
