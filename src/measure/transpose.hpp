/// Rows to columns: the same pixels with x and y exchanged.
#pragma once
#include <vector>

#include "hairline/layer.hpp"

namespace hairline::inner {

/// Columns [x0, x1) change between row `row` - 1 and row `row`.
struct Change {
  std::uint32_t x0, x1, row;
};

/// Buffers that are used again from layer to layer.
struct TransposeScratch {
  std::vector<Change> changes;
  std::vector<std::uint32_t> next;
};

/// `out` becomes the transpose of `mask`; equal neighbouring columns share spans. Costs in proportion to the number of
/// spans and of horizontal pixel edges, not of pixels.
void transpose(const Mask& mask, Mask& out, TransposeScratch& scratch);

}  // namespace hairline::inner
