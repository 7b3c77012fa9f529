// PNG rows: filters taken off in place, pixels turned into runs. Most rows of a mask equal the row above, and most of
// the others are flat, so both passes move by words wherever nothing changes.
#pragma once
#include <cstddef>
#include <cstdint>
#include <vector>

#include "hairline/archive.hpp"

namespace hairline::png {

enum class RowKind : std::uint8_t { equal, changed, bad_filter };

struct FilteredRow {
  std::uint8_t* bytes = nullptr;        ///< filter byte first; the row behind it is unfiltered in place
  const std::uint8_t* above = nullptr;  ///< unfiltered row above; zeros for the first row
  const std::uint8_t* zeros = nullptr;  ///< a row of zeros
  std::size_t length = 0;               ///< without the filter byte
  std::uint32_t step = 1;               ///< filter_step
};

/// Takes the filter off. `equal`: the row equals the one above, and its bytes may have been left as they were.
RowKind unfilter(const FilteredRow& row);

/// Builds a layer from rows of grey pixels, with the same runs and the same sharing as `encode`, in memory that is
/// kept.
class RunCollector {
 public:
  void start(Size size, std::uint32_t most_runs);
  void repeat();
  void add(const std::uint8_t* pixels);
  /// Fails with limit when there are more than `most_runs`.
  Result<Layer> take(const PngSource& source);

 private:
  Size size_;
  std::vector<RowRange> rows_;
  std::vector<Run> runs_;  ///< `used_` of them are in use
  std::uint32_t used_ = 0, most_ = 0;
  RowRange last_;
};

}  // namespace hairline::png
