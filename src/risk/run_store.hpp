/// Critical runs with what decides their lot, kept for the places that will be looked at again.
#pragma once
#include <algorithm>
#include <climits>
#include <cstdint>
#include <deque>
#include <memory>
#include <optional>
#include <span>
#include <vector>

#include "../closeup/closeup.hpp"
#include "certainty.hpp"
#include "hairline/exposure.hpp"
#include "hairline/risk.hpp"
#include "run_file.hpp"

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

/// What many runs share, so that it is held once.
struct Like {
  float log_sd = 0;      ///< spread of ln(critical exposure)
  float blur_slope = 0;  ///< as in CriticalRun
  float width_mm = 0;    ///< narrowest wall or gap found in them; infinity: none
  float height_mm = 0;   ///< of the flat gap that closes; 0: an upright one
  bool operator==(const Like&) const = default;
};

/// Voxels [begin, end) of one row that flip at the same exposure.
struct RiskRun : Like {
  std::uint32_t row = 0, begin = 0, end = 0;
  float critical_s = 0;  ///< as in CriticalRun
  Lots lots;
};

/// How lots follow from critical exposures in one layer.
struct LotRule {
  double least_z = 0;           ///< a voxel may flip from this many spreads on (negative: before its critical exposure)
  std::vector<double> times_s;  ///< rising; what critical exposures of the layer are compared with
  std::size_t first_time = 0;   ///< what is at risk only before it is left out
};

/// How many of `times_s`, rising, lie under `time_s`.
std::uint8_t times_before(const std::vector<double>& times_s, double time_s);

/// The context's times as critical exposures of a layer are compared with them: those of a base or transition layer are
/// its own.
std::vector<double> times_of_layer(const RiskContext& context, std::uint32_t number);

/// Those that are at risk at some time. `thin`: the layer's thin walls (vanish) or gaps (fuse), sorted.
std::vector<RiskRun> risk_runs(Fate fate, const std::vector<CriticalRun>& runs, const Certainty& certainty,
                               double height_slope, const LotRule& rule, const std::vector<ThinPlace>& thin);

/// The drawn solid of a layer and its pieces.
struct Drawn {
  Mask solid;
  Pieces pieces;
};

/// A layer's runs in little room, and so that those of a small box lie together: cut into tiles, and what many runs of
/// a tile share is held once.
class PackedRuns {
 public:
  PackedRuns() = default;
  /// `runs`: sorted, not overlapping.
  PackedRuns(const std::vector<RiskRun>& runs);
  /// Of memory.
  std::uint64_t bytes() const;
  /// Runs go to the file, which must outlive them; they stay where it does not take them.
  void move_to(RunFile& file);
  bool in_file() const { return file_ != nullptr; }
  /// Calls see(run) for the runs that meet columns [x0, x1) of rows [y0, y1), row by row; a run that goes on over the
  /// end of a tile comes in pieces.
  template <class See>
  void each(int x0, int y0, int x1, int y1, See see) const;
  /// Calls see(run) for all.
  template <class See>
  void each(See see) const {
    each(0, 0, INT_MAX, INT_MAX, see);
  }

 private:
  static constexpr std::uint32_t tile_px = 512, tile_rows = 64;
  struct Packed {
    std::uint16_t place;  // in the tile: row * tile_px + column
    std::uint16_t count;
    Lots lots;
    std::uint16_t like;  // index of the tile's likes
    float critical_s;
    std::uint32_t end() const { return std::uint32_t{place} + count; }
  };
  // Of a tile's first run and first like; those of the next are its ends.
  struct Place {
    std::uint32_t run = 0, like = 0;
  };
  struct Tile {
    std::span<const Packed> runs;
    std::span<const Like> likes;
    std::vector<Packed> read_runs;  // where they come from a file
    std::vector<Like> read_likes;
  };
  Place end() const;
  void pack(std::vector<RiskRun>& tile);
  std::uint16_t index_of(const Like& like);
  void open(std::size_t index, Tile& tile) const;
  template <class See>
  static void each_of_row(Tile& tile, std::uint32_t row, std::uint32_t column, int x0, int x1, See see);

  std::size_t first_band_ = 0, columns_ = 0;  // of tiles
  std::vector<Place> places_;                 // of each tile of each row of tiles, from the first on; and the end
  std::vector<Packed> runs_;
  std::vector<Like> likes_;
  const RunFile* file_ = nullptr;  // holds both instead, tile by tile
  std::uint64_t file_at_ = 0;
};

// `column`: the tile's first. Runs of rows above go from the tile.
template <class See>
void PackedRuns::each_of_row(Tile& tile, std::uint32_t row, std::uint32_t column, int x0, int x1, See see) {
  const std::uint32_t here = row % tile_rows * tile_px;
  const auto within = [&](int x) {
    return here + static_cast<std::uint32_t>(std::clamp<std::int64_t>(std::int64_t{x} - column, 0, tile_px));
  };
  const std::uint32_t from = within(x0), to = within(x1);
  auto run =
      std::partition_point(tile.runs.begin(), tile.runs.end(), [&](const Packed& one) { return one.end() <= from; });
  for (; run != tile.runs.end() && run->place < to; ++run) {
    const std::uint32_t begin = column + (run->place - here);
    see(RiskRun{tile.likes[run->like], row, begin, begin + run->count, run->critical_s, run->lots});
  }
  tile.runs = {run, tile.runs.end()};
}

template <class See>
void PackedRuns::each(int x0, int y0, int x1, int y1, See see) const {
  const std::size_t from = static_cast<std::size_t>(std::max(x0, 0)) / tile_px;
  const std::size_t to = std::min(columns_, (static_cast<std::size_t>(std::max(x1, 0)) + tile_px - 1) / tile_px);
  if (from >= to) return;
  const std::size_t end_band = first_band_ + (places_.size() - 1) / columns_;
  std::vector<Tile> tiles(to - from);
  for (std::size_t band = std::max(first_band_, static_cast<std::size_t>(std::max(y0, 0)) / tile_rows); band < end_band;
       ++band) {
    const std::int64_t top = static_cast<std::int64_t>(band) * tile_rows;
    if (top >= y1) return;
    for (std::size_t i = 0; i < tiles.size(); ++i) open((band - first_band_) * columns_ + from + i, tiles[i]);
    for (std::int64_t row = std::max<std::int64_t>(y0, top); row < std::min<std::int64_t>(y1, top + tile_rows); ++row)
      for (std::size_t i = 0; i < tiles.size(); ++i)
        if (!tiles[i].runs.empty())
          each_of_row(tiles[i], static_cast<std::uint32_t>(row), static_cast<std::uint32_t>(from + i) * tile_px, x0, x1,
                      see);
  }
}

/// A mask that lies in a file: its rows, and behind them its spans.
struct FiledMask {
  Size size;
  std::size_t spans = 0;
  std::uint64_t at = 0;
};

struct StoredLayer {
  std::uint32_t number = 0;
  bool base = false;
  LotRule rule;
  PackedRuns vanish, fuse;
  /// All of the layer's solid, or what of it is still wanted, where that is held in memory.
  std::shared_ptr<const Mask> solid;
  std::optional<FiledMask> filed_solid;  ///< or where it lies instead
  const PackedRuns& runs(Fate fate) const { return fate == Fate::vanish ? vanish : fuse; }
};

/// Layers are added with falling numbers.
class RunStore {
 public:
  explicit RunStore(std::vector<std::filesystem::path> folders = temporary_folders(),
                    std::uint64_t most_bytes = 64'000'000)
      : file_(std::make_unique<RunFile>(std::move(folders))), most_bytes_(most_bytes) {}
  void add(StoredLayer layer);
  /// Of layers over `number` only runs in a file or one of the first boxes and solid in one of the others stay; each
  /// layer is looked through once.
  void prune(std::uint32_t number, std::vector<BoxVoxels> run_boxes, std::vector<BoxVoxels> solid_boxes);
  /// A layer's solid, as far as it is still wanted; null: it has to be read again.
  std::shared_ptr<const Mask> solid(const StoredLayer& layer) const;
  /// Of memory: many runs and much solid lie in a file, but those of the lowest layers.
  std::uint64_t bytes() const { return solid_bytes_ + run_bytes_; }
  /// Fails with unreadable when runs could not be read back; what was told of them then was not all.
  Result<void> all_read() const;
  std::uint32_t pruned_to() const { return pruned_to_; }
  const StoredLayer* find(std::uint32_t number) const;

 private:
  void move_solid();
  void move_runs();

  std::unique_ptr<RunFile> file_;
  std::uint64_t most_bytes_;        // of runs, and of solid, in memory; a file takes the others
  std::deque<StoredLayer> layers_;  // highest first
  std::uint64_t run_bytes_ = 0;
  std::size_t solid_bytes_ = 0;
  std::size_t next_solid_ = 0;  // index of the highest layer whose solid has not been offered to the file
  std::size_t next_runs_ = 0;   // the same of runs
  std::uint32_t pruned_to_ = UINT32_MAX;
};

}  // namespace hairline::risk
