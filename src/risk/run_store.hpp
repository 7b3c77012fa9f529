/// Critical runs with what decides their lot, kept for the places that will be looked at again.
#pragma once
#include <algorithm>
#include <climits>
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
/// Gaps: `may` at [lower, upper), `will` from upper on. So there are at most 255 times.
struct Lots {
  std::uint8_t lower = 0, upper = 0;
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
  std::size_t first_time = 0;   ///< what is at risk only before it is left out
};

/// Those that are at risk at some time. `thin`: the layer's thin walls (vanish) or gaps (fuse), sorted.
std::vector<RiskRun> risk_runs(Fate fate, const std::vector<CriticalRun>& runs, const Certainty& certainty,
                               double height_slope, const LotRule& rule, const std::vector<ThinPlace>& thin);

/// The drawn solid of a layer and its pieces.
struct Drawn {
  Mask solid;
  Pieces pieces;
};

/// A layer's runs in little room, and so that those of a small box lie together: cut into blocks of columns, and what
/// many of them share is held once.
class PackedRuns {
 public:
  PackedRuns() = default;
  /// `runs`: sorted, not overlapping.
  PackedRuns(const std::vector<RiskRun>& runs);
  std::uint64_t bytes() const;
  /// Calls see(run) for the runs that meet columns [x0, x1) of rows [y0, y1), row by row; a run that goes on over the
  /// end of a block comes in pieces.
  template <class See>
  void each(int x0, int y0, int x1, int y1, See see) const;
  /// Calls see(run) for all.
  template <class See>
  void each(See see) const {
    each(0, 0, INT_MAX, INT_MAX, see);
  }

 private:
  struct Like {
    float log_sd, blur_slope, width_mm, height_mm;
    bool operator==(const Like&) const = default;
  };
  struct Packed {
    std::uint32_t begin;
    std::uint16_t count;
    Lots lots;
    float critical_s;
    std::uint32_t like;  // index of the block's likes
    std::uint32_t end() const { return begin + count; }
  };
  static constexpr std::uint32_t block_px = 512;
  struct Block {
    std::uint32_t first_row = 0;
    std::vector<std::uint32_t> rows;  // index of each row's first run, from the first row on; and the end
    std::vector<Packed> runs;
    std::vector<Like> likes;
    std::uint32_t like_of(const RiskRun& run);
    std::int64_t end_row() const { return first_row + static_cast<std::int64_t>(rows.size()) - 1; }
  };

  std::vector<Block> blocks_;
};

template <class See>
void PackedRuns::each(int x0, int y0, int x1, int y1, See see) const {
  const std::size_t from = static_cast<std::size_t>(std::max(x0, 0)) / block_px;
  const std::size_t to =
      std::min(blocks_.size(), (static_cast<std::size_t>(std::max(x1, 0)) + block_px - 1) / block_px);
  std::int64_t first_row = INT64_MAX, end_row = 0;
  for (std::size_t b = from; b < to; ++b) {
    if (blocks_[b].runs.empty()) continue;
    first_row = std::min<std::int64_t>(first_row, blocks_[b].first_row);
    end_row = std::max(end_row, blocks_[b].end_row());
  }
  for (std::int64_t row = std::max<std::int64_t>(y0, first_row); row < std::min<std::int64_t>(y1, end_row); ++row) {
    for (std::size_t b = from; b < to; ++b) {
      const Block& block = blocks_[b];
      if (block.runs.empty() || row < block.first_row || row >= block.end_row()) continue;
      const std::uint32_t* at = &block.rows[static_cast<std::size_t>(row - block.first_row)];
      const auto last = block.runs.begin() + at[1];
      auto run = std::partition_point(block.runs.begin() + at[0], last,
                                      [&](const Packed& one) { return std::int64_t{one.end()} <= x0; });
      for (; run != last && std::int64_t{run->begin} < x1; ++run) {
        const Like& like = block.likes[run->like];
        see(RiskRun{static_cast<std::uint32_t>(row), run->begin, run->end(), run->critical_s, like.log_sd,
                    like.blur_slope, like.width_mm, like.height_mm, run->lots});
      }
    }
  }
}

struct StoredLayer {
  std::uint32_t number = 0;
  bool base = false;
  LotRule rule;
  PackedRuns vanish, fuse;
  /// All of the layer's solid, or what of it is still wanted; null: it has to be read again.
  std::shared_ptr<const Mask> solid;
  const PackedRuns& runs(Fate fate) const { return fate == Fate::vanish ? vanish : fuse; }
};

/// Layers are added with falling numbers.
class RunStore {
 public:
  void add(StoredLayer layer);
  /// Of layers over `number` only runs in one of the first boxes and solid in one of the others stay; each layer is
  /// looked through once.
  void prune(std::uint32_t number, const std::vector<BoxVoxels>& run_boxes, const std::vector<BoxVoxels>& solid_boxes);
  std::uint64_t bytes() const { return whole_bytes_ + run_bytes_; }
  std::uint32_t pruned_to() const { return pruned_to_; }
  const StoredLayer* find(std::uint32_t number) const;
  /// Calls see(layer, run, lot) for the runs that meet a box, at one time.
  template <class See>
  void each(Fate fate, std::uint32_t time, const BoxVoxels& box, See see) const;

 private:
  void drop_solid();

  std::deque<StoredLayer> layers_;  // highest first
  std::uint64_t run_bytes_ = 0;
  std::size_t whole_bytes_ = 0;   // of solid that has not been looked through
  std::size_t next_dropped_ = 0;  // index of the highest layer whose solid may still be dropped
  std::uint32_t pruned_to_ = UINT32_MAX;
};

template <class See>
void RunStore::each(Fate fate, std::uint32_t time, const BoxVoxels& box, See see) const {
  for (std::uint32_t n = box.from_layer; n <= box.to_layer; ++n) {
    const StoredLayer* layer = find(n);
    if (layer == nullptr) continue;
    layer->runs(fate).each(box.x0, box.y0, box.x1, box.y1, [&](const RiskRun& run) {
      const Lot lot = lot_at(fate, run.lots, time);
      if (lot != Lot::stays) see(*layer, run, lot);
    });
  }
}

}  // namespace hairline::risk
