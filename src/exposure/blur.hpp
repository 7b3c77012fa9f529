/// Blur of one layer in rectangles, straight from runs.
#pragma once
#include <cstdint>
#include <span>
#include <vector>

#include "hairline/layer.hpp"
#include "kernel.hpp"
#include "tiles.hpp"

namespace hairline::exposure {

/// Pixels of a rectangle; may reach outside the image, where there is no light.
struct Rect {
  int x = 0, y = 0, width = 0, height = 0;
  bool operator==(const Rect&) const = default;
};

/// The rectangle of `tiles` tiles side by side.
inline Rect strip_rect(std::uint32_t tx, std::uint32_t ty, std::uint32_t tiles) {
  return {static_cast<int>(tx * tile_w), static_cast<int>(ty * tile_h), static_cast<int>(tiles * tile_w),
          static_cast<int>(tile_h)};
}

/// Holds the scratch rows, so one object serves one thread at a time.
class Blurrer {
 public:
  /// The layer of the calls to come; it must outlive them.
  void begin(const Layer& layer);
  /// out: rect.width * rect.height values, row-major. Rectangles of the same rows asked for from left to right cost
  /// only the runs they touch; any other needs a search in each row.
  void blur(const Kernel& kernel, const Rect& rect, float* out);

 private:
  void load(const Kernel& kernel, const Rect& rect);
  std::span<const Run> runs_in(int image_row, std::uint32_t& cursor, bool search, int from, int width) const;
  const Layer* layer_ = nullptr;
  Rect last_;                           // the rectangle with its margins asked for last
  std::vector<std::uint32_t> cursors_;  // per row of it: the first run that may reach into the next
  std::vector<float> lines_;            // source rows as light; rows that repeat are stored once
  std::size_t line_count_ = 0;
  std::vector<std::size_t> line_of_row_;
  std::vector<float> swept_;  // the same lines after the x pass
  std::vector<const float*> rows_;
};

}  // namespace hairline::exposure
