#include "flat_gaps.hpp"

#include <algorithm>

namespace hairline::exposure {
namespace {

// Walks a sorted list of spans or gaps from left to right.
template <class T>
class Walk {
 public:
  explicit Walk(std::span<const T> items) : items_(items) {}
  // Moves on to the first item that ends after `at`.
  void pass(std::uint32_t at) {
    while (i_ < items_.size() && items_[i_].end <= at) ++i_;
  }
  bool covers(std::uint32_t at) const { return i_ < items_.size() && items_[i_].begin <= at; }
  // Where membership next changes, seen from `at`.
  std::uint32_t next(std::uint32_t at) const {
    if (i_ >= items_.size()) return UINT32_MAX;
    return items_[i_].begin > at ? items_[i_].begin : items_[i_].end;
  }
  const T& item() const { return items_[i_]; }

 private:
  std::span<const T> items_;
  std::size_t i_ = 0;
};

}  // namespace

void FlatGaps::add_row(std::uint32_t row, std::uint32_t number, std::span<const Span> solid,
                       std::vector<ClosedGap>& closed) {
  const RowRange old = rows_[row];
  const std::span<const GapSpan> gaps{gaps_.data() + old.first, gaps_.data() + old.last};
  const auto roof = above_.row(row);
  const auto first = static_cast<std::uint32_t>(next_gaps_.size());
  const double floor_mm = layers_[number - 1].bottom_mm;
  const auto keep = [&](std::uint32_t begin, std::uint32_t end, std::uint32_t since) {
    if (layers_[since - 1].bottom_mm - floor_mm > most_mm_ + 1e-9) return;
    if (next_gaps_.size() > first && next_gaps_.back().end == begin && next_gaps_.back().since == since) {
      next_gaps_.back().end = end;
    } else {
      next_gaps_.push_back({begin, end, since});
    }
  };
  if (std::equal(roof.begin(), roof.end(), solid.begin(), solid.end())) {  // nothing opens or closes
    for (const GapSpan& gap : gaps) keep(gap.begin, gap.end, gap.since);
    next_rows_[row] = {first, static_cast<std::uint32_t>(next_gaps_.size())};
    return;
  }
  Walk<GapSpan> gap(gaps);
  Walk<Span> above(roof), here(solid);
  for (std::uint32_t at = 0; at != UINT32_MAX;) {
    gap.pass(at), above.pass(at), here.pass(at);
    const std::uint32_t end = std::min({gap.next(at), above.next(at), here.next(at)});
    if (end != UINT32_MAX) {
      const bool empty_here = !here.covers(at);
      if (gap.covers(at)) {  // a gap and a roof never cover the same pixel
        if (empty_here) {
          keep(at, end, gap.item().since);
        } else {
          closed.push_back({row, at, end, number + 1, gap.item().since});
        }
      } else if (above.covers(at) && empty_here) {
        keep(at, end, number + 1);
      }
    }
    at = end;
  }
  next_rows_[row] = {first, static_cast<std::uint32_t>(next_gaps_.size())};
}

void FlatGaps::add(std::uint32_t number, const Mask& solid, std::vector<ClosedGap>& closed) {
  closed.clear();
  const std::uint32_t height = solid.size.height_px;
  if (above_.rows.empty()) {  // the top layer has no roof above it
    above_ = solid;
    rows_.assign(height, {});
    return;
  }
  next_rows_.assign(height, {});
  next_gaps_.clear();
  next_gaps_.reserve(gaps_.size() + gaps_.size() / 4);
  std::size_t row_closed = 0;  // gaps that the row before closed
  for (std::uint32_t r = 0; r < height; ++r) {
    const bool repeats =
        r > 0 && rows_[r] == rows_[r - 1] && above_.rows[r] == above_.rows[r - 1] && solid.rows[r] == solid.rows[r - 1];
    const std::size_t before = closed.size();
    if (repeats) {
      next_rows_[r] = next_rows_[r - 1];
      for (std::size_t i = before - row_closed; i < before; ++i) {
        ClosedGap again = closed[i];
        again.row = r;
        closed.push_back(again);
      }
    } else {
      add_row(r, number, solid.row(r), closed);
    }
    row_closed = closed.size() - before;
  }
  std::swap(rows_, next_rows_);
  std::swap(gaps_, next_gaps_);
  above_ = solid;
}

}  // namespace hairline::exposure
