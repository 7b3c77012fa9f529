/// Exact pixel coverage of polygons, row by row (the signed-area accumulator of font rasterisers).
///
/// Each row of pixels is cut at every corner and every crossing of edges into slabs in which the edges lie side by
/// side. From left to right the rule (even-odd or join) says where inside begins and ends; each such edge adds to the
/// cells it touches how much of them lies to its right. A running sum over the cells then gives each pixel's share:
///
///        col c   c+1   c+2            edge enters at the top in c, leaves at the bottom in c+1
///       +-----+-----+-----+           area[c]   = what is right of the edge within c
///       |   \ |#####|#####|           cover[c]  = height of the edge's part in c (counts fully from c+1 on)
///       |    \|#####|#####|
///       |     \\####|#####|
///       +-----+-----+-----+
///
/// Only touched cells are stored, so a wide flat shape costs two cells a row.
#pragma once
#include <functional>
#include <span>
#include <vector>

#include "hairline/draw.hpp"

namespace hairline::draw {

struct Raster {
  Size size;
  Pitch pitch;
  Edges edges = Edges::grey;
  Overlap overlap = Overlap::even_odd;
};

/// Calls `row(r, runs)` for each row that is touched, from the top; runs are sorted, joined, values 1..255.
void rasterise(const std::vector<OutlineMm>& outlines, const Raster& raster,
               const std::function<void(std::uint32_t, std::span<const Run>)>& row);

}  // namespace hairline::draw
