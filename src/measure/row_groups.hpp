/// Walks the rows of a mask in groups of equal neighbours (rows that share one stretch of spans).
#pragma once
#include <cstdint>

#include "hairline/layer.hpp"

namespace hairline::inner {

/// Rows [row, row + count) share `range`.
struct RowGroup {
  std::uint32_t row = 0, count = 0;
  RowRange range;
};

/// The group that starts at `row`; precondition: row < mask.rows.size().
inline RowGroup group_at(const Mask& mask, std::uint32_t row) {
  const std::uint32_t rows = static_cast<std::uint32_t>(mask.rows.size());
  const RowRange range = mask.rows[row];
  std::uint32_t end = row + 1;
  while (end < rows && (mask.rows[end] == range || (range.empty() && mask.rows[end].empty()))) ++end;
  return {row, end - row, range};
}

}  // namespace hairline::inner
