/// Critical runs joined into details: 8-connected in a layer, and over neighbouring layers where they share a pixel.
///
/// Layers come from the top down. Only details that reach the layer added last are open; a detail that the next layer
/// does not touch is closed: summed up in a few numbers and taken out of the forest.
#pragma once
#include <cstdint>
#include <vector>

#include "critical_bins.hpp"
#include "hairline/exposure.hpp"
#include "hairline/measure.hpp"
#include "hairline/risk.hpp"

namespace hairline::risk {

/// What is known of a detail so far.
struct DetailSum {
  std::uint64_t voxels = 0, flipped = 0;
  double volume_mm3 = 0;
  BoxPx box;
  std::uint32_t from_layer = 0, to_layer = 0;
  float width_mm = 0;  ///< narrowest so far; infinity: none found
  bool flat = false;
  CriticalBins bins;
  std::vector<std::uint32_t> bodies;  ///< bodies it touches (the tracker's business), sorted
};

struct ClosedDetail {
  std::uint32_t node = 0;
  DetailSum sum;
};

struct LayerFacts {
  std::uint32_t number = 0;
  double voxel_mm3 = 0;     ///< pixel area times layer height
  double height_slope = 0;  ///< see Certainty::height_slope
  double exposure_s = 0;    ///< at which `flipped` is counted
};

/// Sets a voxel can be in: likely enough to flip at the judged exposure; flips within the range of the sweep.
enum RunSet : std::uint8_t { at_risk = 1, in_range = 2 };

/// Critical runs of one layer and fate, sorted, not overlapping, with what every forest needs of them.
struct JudgedRuns {
  std::vector<CriticalRun> runs;
  std::vector<double> log_critical;  ///< ln(critical_s) of each run
  std::vector<std::uint8_t> sets;    ///< of each run: RunSet, joined by or
};

inline constexpr std::uint32_t no_node = UINT32_MAX;

class DetailForest {
 public:
  /// Details of the voxels of one set.
  DetailForest(Fate fate, RunSet set) : fate_(fate), set_(set) {}

  /// Adds one layer's runs and its thin places (walls for vanish, gaps for fuse); `above`: what was added before.
  /// Details the layer does not touch are appended to `closed`.
  void add(const LayerFacts& layer, const JudgedRuns& now, const JudgedRuns& above, const std::vector<ThinPlace>& thin,
           std::vector<ClosedDetail>& closed);
  /// Nodes of the runs added last; no_node for those that are not of the set.
  const std::vector<std::uint32_t>& nodes() const { return node_; }

  /// Closes everything.
  void finish(std::vector<ClosedDetail>& closed);

  /// The node that stands for the detail a node belongs to (also after it was closed).
  std::uint32_t find(std::uint32_t node);
  void touch_body(std::uint32_t node, std::uint32_t body);

 private:
  std::uint32_t join(std::uint32_t a, std::uint32_t b);
  std::uint32_t fresh();
  DetailSum& sum(std::uint32_t node) { return open_[slot_[find(node)]]; }
  void label(const JudgedRuns& now, const JudgedRuns& above);
  void add_run(const LayerFacts& layer, const CriticalRun& run, double log_critical, DetailSum& into) const;
  void close_untouched(std::uint32_t number, std::vector<ClosedDetail>& closed);

  Fate fate_;
  RunSet set_;
  std::vector<std::uint32_t> parent_;
  std::vector<std::uint32_t> slot_;  // of roots: index into open_
  std::vector<DetailSum> open_;
  std::vector<std::uint32_t> free_slots_;
  std::vector<std::uint32_t> open_nodes_;  // rising; those joined to older ones are dropped when the layer is done
  std::vector<std::uint32_t> node_, above_node_;
  std::vector<std::uint32_t> piece_;  // scratch: runs of the layer being added that touch
};

}  // namespace hairline::risk
