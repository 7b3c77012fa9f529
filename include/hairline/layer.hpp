/// Layers as runs: the one representation every stage reads and none changes.
///
/// A layer is a list of rows; a row is a sorted list of runs. Background (value 0) is not stored. A run covers
/// columns [begin, end), so its length is end - begin.
///
///     column  0 1 2 3 4 5 6 7
///     value   . 9 9 . . 5 . .      ->  {1,3,9} {5,6,5}
///
/// Most rows of a mask equal the row above. Such rows share one stretch of runs: `rows[r] == rows[r - 1]` as a pair of
/// offsets means the pixels are equal (the reverse need not hold). Only neighbouring rows ever share.
///
/// Coordinates: x right along columns, y down along rows, origin at the outer corner of the top-left pixel; pixel
/// (row r, column c) has its centre at ((c + 0.5) pitch_x, (r + 0.5) pitch_y).
#pragma once
#include <algorithm>
#include <cstdint>
#include <span>
#include <vector>

namespace hairline {

struct Size {
  std::uint32_t width_px = 0, height_px = 0;
  bool operator==(const Size&) const = default;
};

/// Distance between pixel centres, mm; may differ in x and y.
struct Pitch {
  double x_mm = 0.05, y_mm = 0.05;
  double pixel_mm2() const { return x_mm * y_mm; }
  bool operator==(const Pitch&) const = default;
};

/// A pixel by its row, from the top, and its column.
struct PixelPx {
  std::uint32_t row = 0, col = 0;
};

/// Half-open box of pixels: columns [x0, x1), rows [y0, y1). Empty when x0 == x1.
struct BoxPx {
  std::uint32_t x0 = 0, y0 = 0, x1 = 0, y1 = 0;
  bool operator==(const BoxPx&) const = default;
};
/// Smallest box that holds both; an empty box adds nothing.
inline BoxPx join(const BoxPx& a, const BoxPx& b) {
  if (a.x0 == a.x1) return b;
  if (b.x0 == b.x1) return a;
  return {std::min(a.x0, b.x0), std::min(a.y0, b.y0), std::max(a.x1, b.x1), std::max(a.y1, b.y1)};
}

/// Pixels with a value from here up are solid (design: mask value 128 of 255).
inline constexpr std::uint8_t solid_from = 128;

/// Columns [begin, end) of one row share `value`. Always begin < end, value > 0.
struct Run {
  std::uint32_t begin, end;
  std::uint8_t value;
  bool operator==(const Run&) const = default;
};

/// Columns [begin, end) of one row are set. Always begin < end.
struct Span {
  std::uint32_t begin, end;
  bool operator==(const Span&) const = default;
};

/// Offsets [first, last) of one row's runs or spans in the list they are stored in.
struct RowRange {
  std::uint32_t first = 0, last = 0;
  bool empty() const { return first == last; }
  bool operator==(const RowRange&) const = default;
};

/// One exposed image. Rows from the top, runs sorted by begin, never overlapping; touching runs of equal value are
/// joined. Safe to read from many threads.
struct Layer {
  Size size;
  std::vector<RowRange> rows;  ///< size.height_px entries
  std::vector<Run> runs;
  std::span<const Run> row(std::uint32_t r) const { return {runs.data() + rows[r].first, runs.data() + rows[r].last}; }
};

/// A set of pixels (no grey). Spans sorted by begin, never overlapping or touching. Safe to read from many threads.
struct Mask {
  Size size;
  std::vector<RowRange> rows;  ///< size.height_px entries
  std::vector<Span> spans;
  std::span<const Span> row(std::uint32_t r) const {
    return {spans.data() + rows[r].first, spans.data() + rows[r].last};
  }
};

/// Collects one layer row by row, sharing equal neighbouring rows. Rows are added from the top; missing ones at the
/// end are background. Reusable: `take` hands the layer over and starts anew.
class LayerBuilder {
 public:
  explicit LayerBuilder(Size size);
  /// Adds one row of `size.width_px` pixel values.
  void add_row(std::span<const std::uint8_t> pixels);
  /// Adds one row given as runs (sorted, touching equal values allowed: they are joined; value 0 is dropped).
  void add_runs(std::span<const Run> runs);
  /// Adds a row equal to the one before (background when there is none).
  void repeat_row();
  Layer take();

 private:
  void close_row(std::uint32_t first);
  Size size_;
  Layer layer_;
};

/// Encodes `pixels` (row-major, 0 = background; only read during the call). Same pixels, same runs, on any machine.
/// Precondition: pixels.size() == width * height.
Layer encode(std::span<const std::uint8_t> pixels, Size size);
/// The pixels of a layer, row-major; the inverse of `encode`.
std::vector<std::uint8_t> decode(const Layer& layer);

/// Every value v as 255 - v.
Layer inverted(const Layer& layer);

/// Pixels of value `from` and up.
Mask solid(const Layer& layer, std::uint8_t from = solid_from);
/// The pixels of `a` that are not in `b`; both masks have one size.
Mask minus(const Mask& a, const Mask& b);
/// Number of set pixels.
std::uint64_t area_px(const Mask& mask);
/// Smallest box of all set pixels.
BoxPx bounds(const Mask& mask);

}  // namespace hairline
