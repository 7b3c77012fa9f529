#include "lost_runs.hpp"

namespace hairline::risk {

std::vector<LostRun> lost_runs(const JudgedRuns& judged, const std::vector<Stretch>& stretches) {
  std::vector<LostRun> lost;
  for (const Stretch& stretch : stretches) {
    if ((stretch.sets & at_risk) == 0) continue;
    for (std::size_t i = stretch.first_run; i < stretch.end_run; ++i) {
      if (judged.flips[i] == 0) continue;
      const CriticalRun& run = judged.runs[i];
      const bool goes_on = !lost.empty() && lost.back().row == run.row && lost.back().end == run.begin;
      if (goes_on)  // of another clump, it may be, but of the same detail
        lost.back().end = run.end;
      else
        lost.push_back({run.row, run.begin, run.end, stretch.node});
    }
  }
  return lost;
}

Mask mask_of(const std::vector<LostRun>& runs, Size size) {
  Mask mask;
  mask.size = size;
  mask.rows.reserve(size.height_px);
  mask.spans.reserve(runs.size());
  std::size_t i = 0;
  for (std::uint32_t r = 0; r < size.height_px; ++r) {
    const auto first = static_cast<std::uint32_t>(mask.spans.size());
    for (; i < runs.size() && runs[i].row == r; ++i) mask.spans.push_back({runs[i].begin, runs[i].end});
    mask.rows.push_back({first, static_cast<std::uint32_t>(mask.spans.size())});
  }
  return mask;
}

}  // namespace hairline::risk
