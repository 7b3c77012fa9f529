// Connected pieces from spans: one union-find node per stored span, roots are always the smallest index, so one forward
// sweep resolves them. (Two-pass labelling, Rosenfeld and Pfaltz 1966; runs instead of pixels as in He, Chao and Suzuki
// 2008: both from memory.)
#include <algorithm>

#include "../base/root_of.hpp"
#include "hairline/measure.hpp"
#include "row_groups.hpp"

namespace hairline {
namespace {

constexpr std::uint32_t no_piece = UINT32_MAX;

void unite(std::vector<std::uint32_t>& parent, std::uint32_t a, std::uint32_t b) {
  if (parent[a] == parent[b]) return;
  const std::uint32_t ra = root_of(parent, a), rb = root_of(parent, b);
  if (ra < rb)
    parent[rb] = ra;
  else
    parent[ra] = rb;
}

/// Unites every span of `below` with the spans of the row above it touches, corners included.
void unite_rows(const Mask& mask, RowRange above, RowRange below, std::vector<std::uint32_t>& parent) {
  const Span* spans = mask.spans.data();
  std::uint32_t i = above.first;
  for (std::uint32_t j = below.first; j < below.last; ++j) {
    const Span span = spans[j];
    while (i < above.last && spans[i].end < span.begin) ++i;
    if (i < above.last && spans[i].begin <= span.end) {
      parent[j] = parent[i];  // first touch: no search needed
      while (spans[i].end < span.end && i + 1 < above.last && spans[i + 1].begin <= span.end) unite(parent, j, ++i);
    }
  }
}

/// Fixed-order sums of one mask; labels follow the first pixel in row order.
void number_and_measure(const Mask& mask, std::vector<std::uint32_t>& parent, Pieces& out) {
  const std::uint32_t rows = static_cast<std::uint32_t>(mask.rows.size());
  std::vector<std::uint32_t> label_of_root(mask.spans.size(), no_piece);
  for (std::uint32_t r = 0; r < rows;) {
    const inner::RowGroup group = inner::group_at(mask, r);
    r = group.row + group.count;
    for (std::uint32_t j = group.range.first; j < group.range.last; ++j) {
      const Span span = mask.spans[j];
      std::uint32_t& label = label_of_root[root_of(parent, j)];
      if (label == no_piece) {
        label = static_cast<std::uint32_t>(out.pieces.size());
        out.pieces.push_back({0, {span.begin, group.row, span.end, r}});
      }
      out.of_span[j] = label;
      Piece& piece = out.pieces[label];
      piece.area_px += std::uint64_t{span.end - span.begin} * group.count;
      piece.box.x0 = std::min(piece.box.x0, span.begin);
      piece.box.x1 = std::max(piece.box.x1, span.end);
      piece.box.y1 = r;
    }
  }
}

}  // namespace

Pieces find_pieces(const Mask& mask) {
  Pieces out;
  out.of_span.assign(mask.spans.size(), no_piece);
  std::vector<std::uint32_t> parent(mask.spans.size());
  for (std::uint32_t i = 0; i < parent.size(); ++i) parent[i] = i;
  const std::uint32_t rows = static_cast<std::uint32_t>(mask.rows.size());
  RowRange above{};
  for (std::uint32_t r = 0; r < rows;) {
    const inner::RowGroup group = inner::group_at(mask, r);
    r = group.row + group.count;
    unite_rows(mask, above, group.range, parent);
    above = group.range;
  }
  number_and_measure(mask, parent, out);
  return out;
}

// A piece has a run in every row of its box.
PixelPx middle_pixel(const Mask& mask, const Pieces& pieces, std::uint32_t piece) {
  const BoxPx& box = pieces.pieces[piece].box;
  const std::uint32_t row = (box.y0 + box.y1) / 2, col = (box.x0 + box.x1) / 2;
  std::uint32_t found = box.x0, least_off = UINT32_MAX;
  for (std::uint32_t i = mask.rows[row].first; i < mask.rows[row].last; ++i) {
    const Span& span = mask.spans[i];
    const std::uint32_t off = col < span.begin ? span.begin - col : col >= span.end ? col - span.end + 1 : 0;
    if (pieces.of_span[i] != piece || off >= least_off) continue;
    least_off = off;
    found = off == 0 ? col : (span.begin + span.end) / 2;
  }
  return {row, found};
}

}  // namespace hairline
