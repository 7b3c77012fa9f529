/// Voxels that are gone at the judged exposure.
#pragma once
#include <algorithm>
#include <cstdint>
#include <vector>

#include "detail_forest.hpp"

namespace hairline::risk {

/// Columns [begin, end) of a row that are lost, with the node of a clump of their detail.
struct LostRun {
  std::uint32_t row = 0, begin = 0, end = 0, node = 0;
};

/// Of one layer, sorted; `stretches` are those of the forest of details.
std::vector<LostRun> lost_runs(const JudgedRuns& judged, const std::vector<Stretch>& stretches);
Mask mask_of(const std::vector<LostRun>& runs, Size size);

/// Calls meet(node, span index) for lost runs and spans of a mask that share a pixel or, with slack 1, touch
/// sideways.
template <class Meet>
void meet_spans(const std::vector<LostRun>& lost, const Mask& mask, std::uint32_t slack, Meet meet) {
  for (const LostRun& run : lost) {
    const std::uint32_t first_row = run.row < slack ? 0 : run.row - slack;
    for (std::uint32_t r = first_row; r <= run.row + slack && r < mask.size.height_px; ++r) {
      const auto row = mask.row(r);
      auto span = std::lower_bound(row.begin(), row.end(), run.begin,
                                   [slack](const Span& s, std::uint32_t at) { return s.end + slack <= at; });
      for (; span != row.end() && span->begin < run.end + slack; ++span) {
        meet(run.node, static_cast<std::size_t>(&*span - mask.spans.data()));
      }
    }
  }
}

}  // namespace hairline::risk
