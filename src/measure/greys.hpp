/// Grey edges: where within its pixels the boundary of a run lies (docs/measures.md, Where a boundary lies).
#pragma once
#include <cstdint>
#include <vector>

#include "hairline/layer.hpp"

namespace hairline::inner {

/// Boundaries are kept to 1/256 of a pixel: floats hold that exactly in any image, so a shape has the same widths
/// wherever it lies, mirrored or not.
inline float to_grain(float columns) {
  return static_cast<float>(static_cast<std::int32_t>(columns * 256 + (columns < 0 ? -0.5f : 0.5f))) / 256;
}

/// Boundaries of one run, columns: begin and end, moved by what the grey pixels there cover.
struct Boundaries {
  float left, right;
};

/// Reads the pixels of a layer along its rows or along its columns; a layer without grey costs nothing.
class Greys {
 public:
  /// `layer` null, or without grey: every boundary lies between pixels. It must outlive this.
  void begin(const Layer* layer);
  /// From now on a line is a column of the layer, not a row.
  void turn(bool columns) { columns_ = columns; }
  bool any() const { return layer_ != nullptr; }
  /// Does the grey of the line differ from that of the line before? (The solid pixels may be the same.)
  bool changes_at(std::uint32_t line) const { return layer_ != nullptr && columns_ && column_changes_[line] != 0; }
  /// Of the run [begin, end) of one phase (`solid` or not) in a line.
  Boundaries boundaries(std::uint32_t line, std::uint32_t begin, std::uint32_t end, bool solid);

 private:
  std::uint8_t value(std::int64_t line, std::int64_t at);
  float outside(std::uint32_t line, std::int64_t at, int step, bool solid);
  float missing(std::uint32_t line, std::int64_t at, int step, std::uint32_t length, bool solid);
  float share(std::uint32_t line, std::int64_t at, bool solid);

  const Layer* layer_ = nullptr;
  bool columns_ = false;
  std::vector<std::uint32_t> hint_;           ///< per row: run that was read last
  std::vector<std::uint8_t> column_changes_;  ///< per column: grey that begins or ends there
};

}  // namespace hairline::inner
