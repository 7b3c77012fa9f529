#include "listing.hpp"

#include <algorithm>

namespace hairline::exposure {

void append_voxels(std::vector<CriticalRun>& runs, const CriticalRun& voxels) {
  if (!runs.empty()) {
    CriticalRun& last = runs.back();
    if (last.row == voxels.row && last.end == voxels.begin && last.critical_s == voxels.critical_s &&
        last.blur_slope == voxels.blur_slope && last.depth_slope == voxels.depth_slope &&
        last.height_mm == voxels.height_mm) {
      last.end = voxels.end;
      return;
    }
  }
  runs.push_back(voxels);
}

void sort_parts(std::vector<CriticalRun>& runs, const std::vector<std::size_t>& begins) {
  const auto at = [&](std::size_t i) { return runs.begin() + static_cast<std::ptrdiff_t>(i); };
  for (std::size_t i = 1; i < begins.size(); ++i)
    std::inplace_merge(runs.begin(), at(begins[i]), at(i + 1 < begins.size() ? begins[i + 1] : runs.size()), before);
}

void merge(std::vector<CriticalRun>& a, std::vector<CriticalRun>& b, std::vector<CriticalRun>& out) {
  out.clear();
  if (a.empty()) return std::swap(b, out);
  if (b.empty()) return std::swap(a, out);
  std::size_t i = 0, j = 0;
  while (i < a.size() && j < b.size()) {
    CriticalRun& first = before(b[j], a[i]) ? b[j] : a[i];
    CriticalRun& second = &first == &a[i] ? b[j] : a[i];
    std::size_t& first_at = &first == &a[i] ? i : j;
    if (first.row != second.row || first.end <= second.begin) {
      append_voxels(out, first);
      ++first_at;
      continue;
    }
    if (first.begin < second.begin) {  // the stretch that only one covers
      CriticalRun alone = first;
      alone.end = second.begin;
      append_voxels(out, alone);
      first.begin = second.begin;
      continue;
    }
    CriticalRun common = second.critical_s < first.critical_s ? second : first;  // both begin here
    common.begin = first.begin;
    common.end = std::min(first.end, second.end);
    append_voxels(out, common);
    a[i].begin = b[j].begin = common.end;
    if (a[i].begin >= a[i].end) ++i;
    if (b[j].begin >= b[j].end) ++j;
  }
  for (; i < a.size(); ++i) append_voxels(out, a[i]);
  for (; j < b.size(); ++j) append_voxels(out, b[j]);
}

}  // namespace hairline::exposure
