/// A dense judge of details: what is said in docs/exposure.md under "Details" and "Lost or rounding", done voxel by
/// voxel in double precision, as plainly as it can be written. It shares no code with src/risk, because it is there to
/// judge it. What flips when comes from the slow twin. Whole stacks stay in memory: for small ones only.
#pragma once
#include <cstdint>
#include <limits>
#include <optional>
#include <vector>

#include "support/slow_twin.hpp"

namespace hairline::referee {

/// What every voxel is and when it flips: a part of twin::Exposed, to be set by hand as well. Critical exposures are
/// normal exposures in s, but in base and transition layers `vanish_s` is the layer's own time.
struct Voxels {
  twin::Volume<std::uint8_t> solid, thin;  ///< thin: solid that is no bulk
  twin::Volume<double> vanish_s;           ///< of thin solid: lost below
  twin::Volume<double> fuse_s;             ///< of gaps of normal layers: filled from here up; +infinity elsewhere
};
inline Voxels voxels_of(const twin::Exposed& e) {
  return {e.solid, e.thin, e.vanish_s, e.fuse_s};
}

struct Bounds {
  double least_mm3 = 0.001, least_flat_mm3 = 0.004, carried_mm3 = 0.1;
  double visible_mm = 0.1, share = 0.3, reach_mm = 0.5;
  double tolerance = 1e-6;
};

struct Detail {
  bool vanish = true;  ///< false: fuse
  bool will = true;    ///< false: may
  bool base = false;
  std::uint32_t from_layer = 0, to_layer = 0;  ///< 1-based, inclusive
  BoxPx box;
  double from_z_mm = 0, to_z_mm = 0;
  std::uint64_t voxels = 0;
  double volume_mm3 = 0, critical_s = 0, extent_mm = 0;
  double front_mm2 = 0, depth_mm = 0;
  bool cavity = false;                    ///< its empty space is closed: nobody sees it
  std::optional<double> share, reach_mm;  ///< only where depth reaches visible_mm
  bool welds = false;
  bool shuts = false;  ///< only where it is deep
  bool breaks = false;
  bool drops = false;  ///< something comes loose with it that is no crumb
  double carries_mm3 = 0;
  /// Solid that falls and is connected with it, but hangs on others too, in a way that can be read differently.
  bool carries_unclear = false;
  bool lost = false;
  bool shadowed = false;  ///< `may`, and touches a lost `will` one of its fate: no harm of its own
};

struct Judged {
  /// In the order of their first voxel (will before may, vanish before fuse; then layer, row, column).
  std::vector<Detail> details, crumbs;
  double solid_mm3 = 0, vanish_mm3 = 0;  ///< of normal layers; bulk that does not bond counts as vanishing
  double bulk_chance = 0;                ///< of the normal layer on which bulk is least sure; 0 where there is none
};
/// Details at input.exposure_s; with no covariance, so that s is the dose spread.
Judged judge(const twin::Input& input, const Voxels& voxels, const Bounds& bounds = {});

/// Lost `will` details of normal layers at one time.
struct Row {
  double exposure_s = 0;
  std::uint32_t vanish = 0, fuse = 0;
  double vanish_mm3 = 0, fuse_mm3 = 0;
};
std::vector<Row> rows(const twin::Input& input, const Voxels& voxels, const std::vector<double>& times_s,
                      const Bounds& bounds = {});

}  // namespace hairline::referee
