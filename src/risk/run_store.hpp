/// Critical runs with what decides their lot, kept for the places that will be looked at again.
#pragma once
#include <algorithm>
#include <cstdint>
#include <deque>
#include <memory>
#include <vector>

#include "hairline/closeup.hpp"
#include "hairline/exposure.hpp"
#include "hairline/risk.hpp"

namespace hairline::risk {

/// What happens to a voxel at one time.
enum class Lot : std::uint8_t { stays, may, will };

/// At which of the times, rising, a voxel has which lot. Solid: `will` at times [0, lower), `may` at [lower, upper).
/// Gaps: `may` at [lower, upper), `will` from upper on.
struct Lots {
  std::uint16_t lower = 0, upper = 0;
  bool operator==(const Lots&) const = default;
};
inline Lot lot_at(Fate fate, const Lots& lots, std::uint32_t time) {
  if (time < lots.lower) return fate == Fate::vanish ? Lot::will : Lot::stays;
  if (time < lots.upper) return Lot::may;
  return fate == Fate::vanish ? Lot::stays : Lot::will;
}

/// Voxels [begin, end) of one row that flip at the same exposure.
struct RiskRun {
  std::uint32_t row = 0, begin = 0, end = 0;
  float critical_s = 0;  ///< as in CriticalRun
  float log_sd = 0;      ///< spread of its logarithm
  float blur_slope = 0;  ///< as in CriticalRun
  float width_mm = 0;    ///< narrowest wall or gap found in them; infinity: none
  float height_mm = 0;   ///< of the flat gap that closes; 0: an upright one
  Lots lots;
};

/// How lots follow from critical exposures in one layer.
struct LotRule {
  double least_z = 0;           ///< a voxel may flip from this many spreads on (negative: before its critical exposure)
  std::vector<double> times_s;  ///< rising; what critical exposures of the layer are compared with
};

/// Those that are at risk at some time. `thin`: the layer's thin walls (vanish) or gaps (fuse), sorted.
std::vector<RiskRun> risk_runs(Fate fate, const std::vector<CriticalRun>& runs, const Certainty& certainty,
                               double height_slope, const LotRule& rule, const std::vector<ThinPlace>& thin);

/// The drawn solid of a layer and its pieces.
struct Drawn {
  Mask solid;
  Pieces pieces;
};

struct StoredLayer {
  std::uint32_t number = 0;
  bool base = false;
  LotRule rule;
  std::vector<RiskRun> vanish, fuse;
  /// All of the layer's solid, or what of it is still wanted; null: it has to be read again.
  std::shared_ptr<const Mask> solid;
  const std::vector<RiskRun>& runs(Fate fate) const { return fate == Fate::vanish ? vanish : fuse; }
};

/// Layers are added with falling numbers.
class RunStore {
 public:
  void add(StoredLayer layer);
  /// Of layers over `number` only runs in one of the first boxes and solid in one of the others stay; each layer is
  /// looked through once.
  void prune(std::uint32_t number, const std::vector<BoxVoxels>& run_boxes, const std::vector<BoxVoxels>& solid_boxes);
  std::uint64_t bytes() const { return whole_bytes_ + run_count_ * sizeof(RiskRun); }
  std::uint32_t pruned_to() const { return pruned_to_; }
  const StoredLayer* find(std::uint32_t number) const;
  /// Calls see(layer, run, lot) for the runs that meet a box, at one time.
  template <class See>
  void each(Fate fate, std::uint32_t time, const BoxVoxels& box, See see) const;

 private:
  void drop_solid();

  std::deque<StoredLayer> layers_;  // highest first
  std::uint64_t run_count_ = 0;
  std::size_t whole_bytes_ = 0;   // of solid that has not been looked through
  std::size_t next_dropped_ = 0;  // index of the highest layer whose solid may still be dropped
  std::uint32_t pruned_to_ = UINT32_MAX;
};

template <class See>
void RunStore::each(Fate fate, std::uint32_t time, const BoxVoxels& box, See see) const {
  for (std::uint32_t n = box.from_layer; n <= box.to_layer; ++n) {
    const StoredLayer* layer = find(n);
    if (layer == nullptr) continue;
    const std::vector<RiskRun>& runs = layer->runs(fate);
    // Rows hold many runs and boxes few: what lies beside the box is stepped over.
    const auto from = [&](auto first, std::int64_t row) {
      return std::partition_point(first, runs.end(), [&](const RiskRun& run) {
        return run.row != row ? run.row < row : std::int64_t{run.end} <= box.x0;
      });
    };
    for (auto run = from(runs.begin(), std::max(box.y0, 0)); run != runs.end() && std::int64_t{run->row} < box.y1;) {
      if (std::int64_t{run->end} <= box.x0 || std::int64_t{run->begin} >= box.x1) {
        run = from(run, std::int64_t{run->row} + (std::int64_t{run->end} <= box.x0 ? 0 : 1));
        continue;
      }
      const Lot lot = lot_at(fate, run->lots, time);
      if (lot != Lot::stays) see(*layer, *run, lot);
      ++run;
    }
  }
}

}  // namespace hairline::risk
