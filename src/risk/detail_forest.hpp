/// Critical runs joined into details and contenders: 8-connected in a layer, and over neighbouring layers where they
/// share a pixel.
///
/// A voxel can be at risk at the judged exposure, in range, or both: details are connected voxels at risk, contenders
/// connected voxels in range. As most voxels are both, runs are not joined twice: voxels of one kind make clumps, each
/// added up once, and clumps that touch make details and contenders (clump_groups.hpp).
///
/// Layers come from the top down. Only clumps that reach the layer added last are open; one that the next layer does
/// not touch is handed to its detail and its contender, and taken out of the forest.
#pragma once
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <utility>
#include <vector>

#include "clump_groups.hpp"
#include "detail_sum.hpp"
#include "hairline/exposure.hpp"
#include "hairline/measure.hpp"
#include "hairline/risk.hpp"

namespace hairline::risk {

struct LayerFacts {
  std::uint32_t number = 0;
  double voxel_mm3 = 0;     ///< pixel area times layer height
  double height_slope = 0;  ///< see Certainty::height_slope
};

/// Which sets a voxel belongs to, as a sum: 3 is both.
using Sets = std::uint32_t;
inline constexpr Sets at_risk = 1, in_range = 2;

/// Critical runs of one layer and fate, sorted, not overlapping, with what is derived from them.
struct JudgedRuns {
  std::vector<CriticalRun> runs;
  std::vector<CriticalBin> bins;  ///< of each run
  std::vector<char> flips;        ///< whether each run flips at the judged exposure
};

/// Runs of one kind that follow each other in a row without a gap.
struct Stretch {
  std::uint32_t row = 0, begin = 0, end = 0;
  std::uint32_t first_run = 0, end_run = 0;
  Sets sets = 0;
  std::uint32_t flipped = 0;        ///< of its voxels
  float flat_gap_mm = INFINITY;     ///< lowest flat gap among them; infinity: none
  std::uint32_t node = UINT32_MAX;  ///< its clump; at first: none
};

class DetailForest {
 public:
  /// A layer is added in three steps: this one,
  void begin_layer() {
    std::swap(now_, above_);
    now_.clear();
  }
  /// then run `number` of the judged ones, for all that belong to a set, rising,
  void take(const CriticalRun& run, std::uint32_t number, Sets sets, bool flips) {
    const std::uint32_t flipped = flips ? run.end - run.begin : 0;
    const float flat_gap_mm = run.height_mm > 0 ? run.height_mm : INFINITY;
    if (!now_.empty()) {
      Stretch& last = now_.back();
      if (last.end_run == number && last.row == run.row && last.end == run.begin && last.sets == sets) {
        last.end = run.end;
        last.end_run = number + 1;
        last.flipped += flipped;
        last.flat_gap_mm = std::min(last.flat_gap_mm, flat_gap_mm);
        return;
      }
    }
    now_.push_back({run.row, run.begin, run.end, number, number + 1, sets, flipped, flat_gap_mm});
  }
  /// and last all runs of the layer, with its thin places (walls for vanish, gaps for fuse).
  void finish_layer(const LayerFacts& layer, const JudgedRuns& judged, const std::vector<ThinPlace>& thin);
  /// Of the layer added last. A node stands for its clump until `close` after the layer that joins or ends it.
  const std::vector<Stretch>& stretches() const { return now_; }
  /// Of the detail to which a clump at risk belongs; valid until the next layer or `close`.
  Bonds& bonds(std::uint32_t node) { return details_.bonds(clump(node).detail); }
  /// Calls see(bonds) for each detail that has bonds and that layer `number`, added last, does not touch; 0: all.
  template <class See>
  void each_bound_untouched(std::uint32_t number, See see);
  /// Ends the clumps that layer `number`, added last, does not touch; number 0: all of them. Calls
  /// see_detail(sum, bonds or null) and see_contender(sum) for what has ended with them.
  template <class SeeDetail, class SeeContender>
  void close(std::uint32_t number, SeeDetail see_detail, SeeContender see_contender);

 private:
  struct Clump {
    DetailSum sum;
    Sets sets = 0;
    std::uint32_t detail = 0, contender = 0;  // groups, when it is in these sets
  };
  // Stretches of the layer being added, or of the layer above and this one, that touch though their kinds differ.
  struct Touch {
    std::uint32_t a = 0, b = 0;
  };

  std::uint32_t find(std::uint32_t node) {
    while (parent_[node] != node) node = parent_[node] = parent_[parent_[node]];
    return node;
  }
  Clump& clump(std::uint32_t node) { return clumps_[slot_[find(node)]]; }
  std::uint32_t join(std::uint32_t a, std::uint32_t b);
  std::uint32_t fresh(Sets sets);
  void link(std::uint32_t a, std::uint32_t b);
  void find_pieces();
  void find_nodes();
  void forget(std::uint32_t root);

  std::vector<std::uint32_t> parent_;  // of nodes in use
  std::vector<std::uint32_t> slot_;    // of roots: index into clumps_
  std::vector<Clump> clumps_;          // free ones are as new
  std::vector<std::uint32_t> nodes_;   // in use, in the order of their birth
  std::vector<std::uint32_t> free_nodes_, free_slots_;
  ClumpGroups details_, contenders_;
  std::vector<Stretch> now_, above_;
  std::vector<std::uint32_t> piece_;              // scratch: stretches of the layer being added that touch
  std::vector<Touch> touching_, touching_above_;  // scratch
};

template <class See>
void DetailForest::each_bound_untouched(std::uint32_t number, See see) {
  for (const std::uint32_t node : nodes_) {
    if (parent_[node] != node) continue;
    const Clump& one = clumps_[slot_[node]];
    if ((one.sets & at_risk) != 0 && one.sum.from_layer == number) details_.touch(one.detail, number);
  }
  details_.each_bound_untouched(number, see);
}

template <class SeeDetail, class SeeContender>
void DetailForest::close(std::uint32_t number, SeeDetail see_detail, SeeContender see_contender) {
  if (number == 0) now_.clear();
  std::erase_if(nodes_, [&](std::uint32_t node) {
    if (parent_[node] == node) {
      Clump& one = clumps_[slot_[node]];
      const bool risky = (one.sets & at_risk) != 0, ranged = (one.sets & in_range) != 0;
      if (risky) one.detail = details_.find(one.detail);
      if (ranged) one.contender = contenders_.find(one.contender);
      if (one.sum.from_layer == number) return false;
      if (risky) details_.end_clump(one.detail, ranged ? DetailSum(one.sum) : std::move(one.sum), see_detail);
      if (ranged) {
        contenders_.end_clump(one.contender, std::move(one.sum),
                              [&](const DetailSum& sum, const Bonds*) { see_contender(sum); });
      }
      forget(node);
    }
    free_nodes_.push_back(node);
    return true;
  });
  details_.forget_joined();
  contenders_.forget_joined();
}

}  // namespace hairline::risk
