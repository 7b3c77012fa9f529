/// Critical runs of one layer and fate, sorted by what happens to them at each of the times, and how they lie to each
/// other. All of it is the same for every time, so it is worked out once.
#pragma once
#include <algorithm>
#include <cstdint>
#include <vector>

#include "hairline/exposure.hpp"
#include "hairline/measure.hpp"
#include "run_store.hpp"

namespace hairline::risk {

struct LayerFacts {
  std::uint32_t number = 0;
  double voxel_mm3 = 0;  ///< pixel area times layer height
  bool base = false;     ///< base or transition layer
  bool border = false;   ///< the layer above is not of the same of these two kinds: nothing is joined to it
};

/// Pieces of one layer: the first that was met, and whether there is another. There are millions of these.
struct PieceSet {
  std::uint32_t first : 31 = none;
  std::uint32_t more : 1 = 0;
  bool empty() const { return first == none; }
  void add(std::uint32_t piece) {
    if (empty()) first = piece & none;
    if (piece != first) more = 1;
  }
  void add(const PieceSet& other) {
    if (!other.empty()) add(other.first);
    if (other.more != 0) more = 1;
  }

 private:
  static constexpr std::uint32_t none = UINT32_MAX >> 1;
};

/// What a gap's voxels of one layer lie between: pieces beside them, and those of the layers above and below that are
/// straight over or under the voxels or the pixels beside them.
struct GapSides {
  PieceSet beside, above, below;
  bool roof = false, floor = false;             ///< solid straight above, straight below
  bool joined_up = false, joined_down = false;  ///< some solid beside them goes on into the layer above, below
  bool touched() const { return !beside.empty() || roof; }
  void add(const GapSides& other) {
    beside.add(other.beside);
    above.add(other.above);
    below.add(other.below);
    roof = roof || other.roof;
    floor = floor || other.floor;
    joined_up = joined_up || other.joined_up;
    joined_down = joined_down || other.joined_down;
  }
};

/// Two stretches that touch. There are many more of these than stretches.
struct Touch {
  std::uint32_t a = 0, b = 0;
};

/// Areas of one pixel's faces.
struct Faces {
  double across_mm2 = 0, along_mm2 = 0, level_mm2 = 0;  ///< between columns, between rows, between layers
};

/// One layer of the print between its neighbours. Null: there is none.
struct Surroundings {
  const PrintedLayer& printed;
  const Drawn& here;
  const Drawn* above = nullptr;
  const RiskLayer* below = nullptr;
};

/// Columns that two stretches share.
inline double shared_px(const RowSpan& a, const RowSpan& b) {
  const std::uint32_t begin = std::max(a.begin, b.begin), end = std::min(a.end, b.end);
  return end > begin ? end - begin : 0;
}

/// A stretch is what of a row shares its lot at every time. There are millions of these in a layer.
struct LayerStretches {
  Fate fate = Fate::vanish;
  std::vector<RowSpan> stretches;  ///< sorted by (row, begin), not overlapping
  std::vector<Lots> lots;          ///< of each
  /// Area of each one's faces to voxels of its own kind, solid or empty; and for gaps what it lies between.
  std::vector<double> faces_mm2;
  std::vector<GapSides> sides;
  std::vector<Touch> beside;  ///< in the layer, a < b, corners included
  std::vector<Touch> above;   ///< a: of the layer above
  Faces faces;                ///< of the layer
  /// Stretches and lots are all that the layer below needs.
  void keep_lots() { faces_mm2 = {}, sides = {}, beside = {}, above = {}; }
  std::uint64_t bytes() const;
  /// Area of the face between two that touch in the layer; 0: by a corner.
  double beside_mm2(const Touch& touch) const {
    const RowSpan &a = stretches[touch.a], &b = stretches[touch.b];
    return a.row == b.row ? faces.across_mm2 : shared_px(a, b) * faces.along_mm2;
  }
  /// The same of one in the layer above and one in this.
  double above_mm2(const Touch& touch, const std::vector<RowSpan>& higher) const {
    return shared_px(higher[touch.a], stretches[touch.b]) * faces.level_mm2;
  }
};

/// The stretches of a layer and their lots. `runs`: sorted.
LayerStretches stretches_of(Fate fate, const std::vector<RiskRun>& runs);

/// Fills in how they lie. `above`: the stretches of the layer above.
void find_touches(LayerStretches& stretches, Pitch pitch, const Surroundings& around,
                  const std::vector<RowSpan>& above);

/// Lots of a layer's stretches, and of those of the layer above, at one time.
struct LotsNow {
  std::vector<Lot> here, above;
  void find(std::uint32_t time, const LayerStretches& layer, const LayerStretches& higher);
};

/// Calls meet(i, j) for entries i of `a` and j of `b` that lie `rows_apart` rows apart (b below a) and touch within
/// `slack` columns; both sorted by (row, begin).
template <class A, class B, class Meet>
void for_each_meeting(const std::vector<A>& a, const std::vector<B>& b, std::uint32_t rows_apart, std::uint32_t slack,
                      Meet meet) {
  const auto place = [](std::uint32_t row, std::uint32_t col) { return (std::uint64_t{row} << 32) + col; };
  std::size_t j = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    const std::uint64_t from = place(a[i].row + rows_apart, a[i].begin);
    const std::uint64_t to = place(a[i].row + rows_apart, a[i].end + slack);
    while (j < b.size() && place(b[j].row, b[j].end + slack) <= from) ++j;
    for (std::size_t k = j; k < b.size() && place(b[k].row, b[k].begin) < to; ++k)
      meet(static_cast<std::uint32_t>(i), static_cast<std::uint32_t>(k));
  }
}

/// Looks up stretches of a mask's rows, asked for in reading order.
class RowScan {
 public:
  explicit RowScan(const Mask& mask) : mask_(mask) {}
  /// Calls see(span number, from, to) for spans that meet [begin, end) of a row, with the columns they share; none
  /// where there is no such row.
  template <class See>
  void meet(std::int64_t row, std::int64_t begin, std::int64_t end, See see) {
    if (row < 0 || row >= static_cast<std::int64_t>(mask_.rows.size())) return;
    if (row != row_) {
      row_ = row;
      at_ = mask_.rows[static_cast<std::size_t>(row)].first;
      last_ = mask_.rows[static_cast<std::size_t>(row)].last;
    }
    while (at_ < last_ && mask_.spans[at_].end <= begin) ++at_;
    for (std::uint32_t k = at_; k < last_ && mask_.spans[k].begin < end; ++k)
      see(k, std::max<std::int64_t>(mask_.spans[k].begin, begin), std::min<std::int64_t>(mask_.spans[k].end, end));
  }
  /// Calls see(span number) for spans that meet [begin, end) of a row, asked for in any order.
  template <class See>
  void anywhere(std::int64_t row, std::int64_t begin, std::int64_t end, See see) const {
    if (row < 0 || row >= static_cast<std::int64_t>(mask_.rows.size())) return;
    const RowRange range = mask_.rows[static_cast<std::size_t>(row)];
    const auto first = mask_.spans.begin() + range.first, last = mask_.spans.begin() + range.last;
    auto at = std::partition_point(first, last, [&](const Span& one) { return one.end <= begin; });
    for (; at != last && at->begin < end; ++at) see(static_cast<std::uint32_t>(at - mask_.spans.begin()));
  }

 private:
  const Mask& mask_;
  std::int64_t row_ = -1;
  std::uint32_t at_ = 0, last_ = 0;
};

}  // namespace hairline::risk
