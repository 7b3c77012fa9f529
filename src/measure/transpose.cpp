#include "transpose.hpp"

#include <algorithm>

#include "row_groups.hpp"

namespace hairline::inner {
namespace {

/// The ends of one row's spans as one rising sequence.
class Edges {
 public:
  Edges(const Mask& mask, RowRange range)
      : at_(mask.spans.data() + range.first), end_(mask.spans.data() + range.last) {}
  std::uint32_t value() const { return at_ == end_ ? UINT32_MAX : (closing_ ? at_->end : at_->begin); }
  void step() {
    if (closing_) ++at_;
    closing_ = !closing_;
  }

 private:
  const Span* at_;
  const Span* end_;
  bool closing_ = false;
};

/// Adds the stretches in which two rows differ: edges both rows have cancel, the others pair up.
void add_changes(const Mask& mask, RowRange above, RowRange below, std::uint32_t row, std::vector<Change>& changes) {
  Edges a(mask, above), b(mask, below);
  bool open = false;
  std::uint32_t x0 = 0;
  for (;;) {
    const std::uint32_t x = a.value(), y = b.value();
    if (x == y) {
      if (x == UINT32_MAX) return;
      a.step();
      b.step();
      continue;
    }
    if (x < y)
      a.step();
    else
      b.step();
    const std::uint32_t edge = std::min(x, y);
    if (open)
      changes.push_back({x0, edge, row});
    else
      x0 = edge;
    open = !open;
  }
}

void collect_changes(const Mask& mask, std::vector<Change>& changes) {
  changes.clear();
  const std::uint32_t rows = static_cast<std::uint32_t>(mask.rows.size());
  RowRange above{};
  for (std::uint32_t r = 0; r < rows;) {
    const RowGroup group = group_at(mask, r);
    add_changes(mask, above, group.range, r, changes);
    r = group.row + group.count;
    above = group.range;
  }
  add_changes(mask, above, RowRange{}, rows, changes);
}

/// Every column has an even number of changes: opening and closing rows in turn. Leaves in `next` the place of each
/// column's first change.
void count_columns(const std::vector<Change>& changes, std::vector<std::uint32_t>& next) {
  for (const Change& change : changes) {  // as differences: a wide change costs no more than a narrow one
    ++next[change.x0 + 1];
    --next[change.x1 + 1];
  }
  std::uint32_t count = 0, offset = 0;
  for (std::size_t x = 1; x < next.size(); ++x) {
    count += next[x];
    next[x] = offset;
    offset += count;
  }
  next[0] = offset;
}

void share_equal_rows(Mask& mask) {
  for (std::size_t r = 1; r < mask.rows.size(); ++r) {
    const RowRange above = mask.rows[r - 1];
    RowRange& range = mask.rows[r];
    if (range.last - range.first == above.last - above.first && !range.empty() &&
        std::equal(mask.spans.begin() + range.first, mask.spans.begin() + range.last, mask.spans.begin() + above.first))
      range = above;
  }
}

}  // namespace

void transpose(const Mask& mask, Mask& out, TransposeScratch& scratch) {
  collect_changes(mask, scratch.changes);
  std::vector<std::uint32_t>& next = scratch.next;
  next.assign(mask.size.width_px + 2, 0);
  count_columns(scratch.changes, next);
  out.size = {mask.size.height_px, mask.size.width_px};
  out.rows.resize(mask.size.width_px);
  out.spans.resize(next[0] / 2);
  for (std::uint32_t x = 0; x < mask.size.width_px; ++x) out.rows[x].first = next[x + 1] / 2;
  for (const Change& change : scratch.changes) {
    for (std::uint32_t x = change.x0; x < change.x1; ++x) {
      const std::uint32_t at = next[x + 1]++;
      Span& span = out.spans[at / 2];
      ((at & 1u) == 0 ? span.begin : span.end) = change.row;
    }
  }
  for (std::uint32_t x = 0; x < mask.size.width_px; ++x) out.rows[x].last = next[x + 1] / 2;
  share_equal_rows(out);
}

}  // namespace hairline::inner
