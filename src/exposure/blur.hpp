/// Blur of one layer in rectangles, straight from runs.
#pragma once
#include <cstdint>
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
  bool load_row(const Rect& rect, int image_row, std::uint32_t& cursor, float* line) const;
  const Kernel& kernel_;
  const Layer& layer_;
  // Source rows of the rectangle with the kernel's margin, as light values; rows that repeat are stored once.
  std::vector<float> lines_;
  std::vector<int> line_of_row_;
  std::vector<float> swept_;  // the same lines after the x pass
  std::vector<std::uint32_t> cursors_;
  int band_y_ = -1, band_height_ = -1, last_x_ = -1;
};

}  // namespace hairline::exposure
