/// Critical runs joined into details: 8-connected in a layer, and over neighbouring layers where they share a pixel.
///
/// Layers come from the top down. Only details that reach the layer added last are open; a detail that the next layer
/// does not touch is closed: summed up in a few numbers and taken out of the forest.
#pragma once
#include <cmath>
#include <cstdint>
#include <utility>
#include <vector>

#include "critical_bins.hpp"
#include "hairline/exposure.hpp"
#include "hairline/measure.hpp"
#include "hairline/risk.hpp"

namespace hairline::risk {

/// What a detail carried in one body when its lowest layer was done: all of it is printed later than the detail begins.
struct Load {
  std::uint32_t body = 0;
  double volume_mm3 = 0;
};

/// What is known of a detail so far.
struct DetailSum {
  std::uint64_t voxels = 0, flipped = 0;
  double volume_mm3 = 0;
  BoxPx box;
  std::uint32_t from_layer = 0, to_layer = 0;
  float width_mm = INFINITY;  ///< narrowest so far; infinity: none found
  bool flat = false;
  CriticalBins bins;
  /// The tracker's business, sorted: bodies above and beside the detail, bodies beneath it, pieces it leaves in the
  /// air.
  std::vector<std::uint32_t> held, resting, starts;
  std::vector<Load> loads;  ///< likewise the tracker's, once the detail is at its end
};

struct LayerFacts {
  std::uint32_t number = 0;
  double voxel_mm3 = 0;     ///< pixel area times layer height
  double height_slope = 0;  ///< see Certainty::height_slope
};

/// Critical runs of one layer and fate, sorted, not overlapping, with what every forest needs of them.
struct JudgedRuns {
  std::vector<CriticalRun> runs;
  std::vector<CriticalBin> bins;       ///< of each run
  std::vector<std::uint32_t> flipped;  ///< of each run: its voxels when they flip at the judged exposure, else 0
};

/// Runs that follow each other in a row without a gap.
struct Stretch {
  std::uint32_t row = 0, begin = 0, end = 0;
  std::uint32_t first_run = 0, end_run = 0;
  std::uint32_t node = UINT32_MAX;  ///< its detail; at first: none
};

class DetailForest {
 public:
  /// A layer is added in three steps: this one,
  void begin_layer() {
    std::swap(now_, above_);
    now_.clear();
  }
  /// then run `number` of the judged ones, for all that belong here, rising,
  void take(const CriticalRun& run, std::uint32_t number) {
    if (!now_.empty()) {
      Stretch& last = now_.back();
      if (last.end_run == number && last.row == run.row && last.end == run.begin) {
        last.end = run.end;
        last.end_run = number + 1;
        return;
      }
    }
    now_.push_back({run.row, run.begin, run.end, number, number + 1});
  }
  /// and last all runs of the layer, with its thin places (walls for vanish, gaps for fuse).
  void finish_layer(const LayerFacts& layer, const JudgedRuns& judged, const std::vector<ThinPlace>& thin);
  /// Of the layer added last. A node stands for its detail until `close` after the layer that joins or closes it.
  const std::vector<Stretch>& stretches() const { return now_; }
  /// What is known of the detail of a node; valid until the next layer or `close`.
  DetailSum& sum(std::uint32_t node) { return open_[slot_[find(node)]]; }
  /// Calls see(sum) for each detail that layer `number`, added last, does not touch; number 0: all of them.
  template <class See>
  void each_untouched(std::uint32_t number, See see) {
    for (const std::uint32_t node : nodes_) {
      if (parent_[node] == node && open_[slot_[node]].from_layer != number) see(open_[slot_[node]]);
    }
  }
  /// Calls the same, then forgets these details.
  template <class See>
  void close(std::uint32_t number, See see) {
    each_untouched(number, see);
    forget_untouched(number);
  }

 private:
  std::uint32_t find(std::uint32_t node);
  std::uint32_t join(std::uint32_t a, std::uint32_t b);
  std::uint32_t fresh();
  void find_pieces();
  void find_nodes();
  void forget(std::uint32_t root);
  void forget_untouched(std::uint32_t number);

  std::vector<std::uint32_t> parent_;  // of nodes in use
  std::vector<std::uint32_t> slot_;    // of roots: index into open_
  std::vector<DetailSum> open_;        // free ones are as new
  std::vector<std::uint32_t> nodes_;   // in use, in the order of their birth
  std::vector<std::uint32_t> free_nodes_, free_slots_;
  std::vector<Stretch> now_, above_;
  std::vector<std::uint32_t> piece_;  // scratch: stretches of the layer being added that touch
};

/// Puts a number into a sorted list, once.
void note(std::vector<std::uint32_t>& sorted, std::uint32_t number);

}  // namespace hairline::risk
