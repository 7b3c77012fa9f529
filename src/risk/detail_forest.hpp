/// Critical runs joined into details: 8-connected in a layer, and over neighbouring layers where they share a pixel.
///
/// Layers come from the top down. Only details that reach the layer added last are open; a detail that the next layer
/// does not touch is closed: summed up in a few numbers and taken out of the forest.
#pragma once
#include <cstdint>
#include <vector>

#include "hairline/exposure.hpp"
#include "hairline/measure.hpp"
#include "hairline/risk.hpp"

namespace hairline::risk {

/// Voxels by critical exposure, in bins of 0.1 % (bin = floor(1000 ln critical)), with the sums of their slopes.
struct CriticalBin {
  std::int32_t bin = 0;
  std::uint64_t voxels = 0;
  double log_critical = 0, blur_slope = 0, depth_slope = 0;  ///< sums over the voxels
};

/// What is known of a detail so far.
struct DetailSum {
  std::uint64_t voxels = 0, flipped = 0;
  double volume_mm3 = 0;
  BoxPx box;
  std::uint32_t from_layer = 0, to_layer = 0;
  float width_mm = 0;  ///< narrowest so far; infinity: none found
  bool flat = false;
  std::vector<CriticalBin> bins;      ///< sorted
  std::vector<std::uint32_t> bodies;  ///< bodies it touches (the tracker's business), sorted
};

/// Middle of the voxels' critical exposures, with the mean slopes there.
struct MedianCritical {
  double critical_s = 0, blur_slope = 0, depth_slope = 0;
};
MedianCritical median(const std::vector<CriticalBin>& bins);

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

class DetailForest {
 public:
  explicit DetailForest(Fate fate) : fate_(fate) {}

  /// Adds one layer's runs (sorted, not overlapping) and its thin places (walls for vanish, gaps for fuse). Returns the
  /// node of each run; valid until the next call. Details the layer does not touch are appended to `closed`.
  const std::vector<std::uint32_t>& add(const LayerFacts& layer, const std::vector<CriticalRun>& runs,
                                        const std::vector<ThinPlace>& thin, std::vector<ClosedDetail>& closed);
  /// Nodes of the runs added last.
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
  void label(const std::vector<CriticalRun>& runs);
  void add_run(const LayerFacts& layer, const CriticalRun& run, DetailSum& into) const;
  void close_untouched(std::vector<ClosedDetail>& closed);

  Fate fate_;
  std::vector<std::uint32_t> parent_;
  std::vector<std::uint32_t> slot_;  // of roots: index into open_
  std::vector<DetailSum> open_;
  std::vector<std::uint32_t> free_slots_;
  std::vector<CriticalRun> above_;  // runs of the layer before
  std::vector<std::uint32_t> above_node_;
  std::vector<std::uint32_t> node_;  // of the runs being added
};

}  // namespace hairline::risk
