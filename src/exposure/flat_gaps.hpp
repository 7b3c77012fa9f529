/// Columns of empty voxels between solid above and solid below, followed downwards as spans (design 6.4, flat gaps).
///
///     layer  n+3   ####      solid: a gap opens below it, since = n+3
///            n+2   ....
///            n+1   ....      the gap's earliest voxel: light reaches it last
///            n     ####      solid: the gap closes
#pragma once
#include <cstdint>
#include <vector>

#include "hairline/layer.hpp"
#include "hairline/settings.hpp"

namespace hairline::exposure {

/// Columns [begin, end) of a row are empty from the layer added last up to, not including, layer `since`.
struct GapSpan {
  std::uint32_t begin, end, since;
  bool operator==(const GapSpan&) const = default;
};

/// A gap that has just closed: empty in layers [from, since).
struct ClosedGap {
  std::uint32_t row, begin, end, from, since;
};

class FlatGaps {
 public:
  /// `most_mm`: the highest gap that is followed.
  FlatGaps(const std::vector<LayerPlan>& layers, double most_mm) : layers_(layers), most_mm_(most_mm) {}
  /// Adds layer `number` (falling). `closed` receives the gaps whose floor it is, by row and column.
  void add(std::uint32_t number, const Mask& solid, std::vector<ClosedGap>& closed);

 private:
  void add_row(std::uint32_t row, std::uint32_t number, std::span<const Span> solid, std::vector<ClosedGap>& closed);
  const std::vector<LayerPlan>& layers_;
  double most_mm_;
  Mask above_;  // solid of the layer added before
  std::vector<RowRange> rows_, next_rows_;
  std::vector<GapSpan> gaps_, next_gaps_;
};

}  // namespace hairline::exposure
