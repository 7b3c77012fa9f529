/// Lists of critical runs: growing them voxel by voxel, and joining two.
#pragma once
#include <vector>

#include "hairline/exposure.hpp"

namespace hairline::exposure {

/// By row, then from left to right.
inline bool before(const CriticalRun& a, const CriticalRun& b) {
  return a.row != b.row ? a.row < b.row : a.begin < b.begin;
}

/// Appends voxels to the right of or below what is there, joining equal neighbours.
void append_voxels(std::vector<CriticalRun>& runs, const CriticalRun& voxels);

/// Sorts a list of which each part, beginning at `begins`, is sorted. No two runs begin at the same pixel.
void sort_parts(std::vector<CriticalRun>& runs, const std::vector<std::size_t>& begins);

/// Joins two sorted lists, which are used up, in place of what `out` held; where both hold, the smaller critical
/// exposure stays.
void merge(std::vector<CriticalRun>& a, std::vector<CriticalRun>& b, std::vector<CriticalRun>& out);

}  // namespace hairline::exposure
