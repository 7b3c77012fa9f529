/// Details at risk: critical voxels joined over layers, how surely they flip, what is lost with them, and what falls
/// (docs/exposure.md, "Details" and "Lost or rounding").
#pragma once
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "hairline/exposure.hpp"
#include "hairline/measure.hpp"
#include "hairline/model.hpp"
#include "hairline/pictures.hpp"
#include "hairline/settings.hpp"

namespace hairline {

enum class Fate : std::uint8_t { vanish, fuse };
/// From this chance on something is taken to happen: a voxel flips, bulk fails (docs/exposure.md, Details).
inline constexpr double will_chance = 0.5;
/// `will`: its voxels flip with a chance of `will_chance` or more; `may`: with less, from RiskSettings::least_chance
/// on.
enum class State : std::uint8_t { will, may };

struct PlaceMm {
  double x = 0, y = 0, z = 0;
  bool operator==(const PlaceMm&) const = default;
};
/// Box in mm: plate coordinates of its lowest and highest corner.
struct BoxMm {
  PlaceMm from, to;
};

/// The least box around two.
inline BoxMm join(const BoxMm& a, const BoxMm& b) {
  return {{std::min(a.from.x, b.from.x), std::min(a.from.y, b.from.y), std::min(a.from.z, b.from.z)},
          {std::max(a.to.x, b.to.x), std::max(a.to.y, b.to.y), std::max(a.to.z, b.to.z)}};
}
inline bool overlap(const BoxMm& a, const BoxMm& b) {
  return a.from.x < b.to.x && b.from.x < a.to.x && a.from.y < b.to.y && b.from.y < a.to.y && a.from.z < b.to.z &&
         b.from.z < a.to.z;
}
/// Its diagonal.
inline double extent_mm(const BoxMm& box) {
  return std::hypot(box.to.x - box.from.x, box.to.y - box.from.y, box.to.z - box.from.z);
}
/// A box of pixels between two heights.
inline BoxMm box_mm(const BoxPx& box, Pitch pitch, double from_mm, double to_mm) {
  return {{box.x0 * pitch.x_mm, box.y0 * pitch.y_mm, from_mm}, {box.x1 * pitch.x_mm, box.y1 * pitch.y_mm, to_mm}};
}

/// A connected set, over layers, of thin solid (vanish) or gap (fuse) voxels of one state.
struct Detail {
  std::uint32_t id = 0;  ///< 1-based; lost ones first, then worst (harm x chance) first
  Fate fate = Fate::vanish;
  State state = State::will;
  bool lost = false;  ///< else rounding: a crease fills in, an edge or tip is blunted
  bool base = false;  ///< in base or transition layers, judged at their own time
  std::uint32_t from_layer = 0, to_layer = 0;
  BoxMm box;
  double volume_mm3 = 0;
  double width_mm = 0;             ///< narrowest wall (gap) inside it; for a flat gap its height
  bool flat = false;               ///< the narrowest gap is a flat one
  bool roofed = false;             ///< most of a gap that is lost lies under solid; not in reports
  double depth_mm = 0;             ///< volume over front: how far the print stays behind the drawing
  std::optional<double> share;     ///< of the drawn part around it; unset where depth says rounding
  std::optional<double> reach_mm;  ///< greatest distance to what stays of its kind; unset likewise
  bool welds = false;              ///< a gap that joins two solids
  bool shuts = false;              ///< a way between two empty spaces closes; only where it is not lost anyway
  bool breaks = false;             ///< a part between two solids that stay goes; only where it is not lost anyway
  double extent_mm = 0;            ///< diagonal of its box
  std::optional<double> critical_exposure_s;  ///< median of its voxels'; unset in base and transition layers
  double log_sd = 0;                          ///< spread of ln(critical exposure): record and process together
  double probability = 0;                     ///< chance that it flips at the judged exposure
  bool avoidable = true;   ///< at some time of the valid range at which bulk holds its chance is under one half
  double carries_mm3 = 0;  ///< solid printed later that has no other way to the plate
  double harm_mm = 0;      ///< extent, plus the extents of the bodies that fall with it; 0 beside a lost `will` one
};

/// Details too small to list.
struct Crumbs {
  struct Place {
    Fate fate = Fate::vanish;
    std::uint32_t from_layer = 0, to_layer = 0;
    BoxMm box;
  };
  std::uint32_t vanish = 0, fuse = 0;
  double vanish_mm3 = 0, fuse_mm3 = 0;
  double deep_mm3 = 0;           ///< of `will` ones whose depth is at least visible_mm
  std::optional<Place> longest;  ///< of those
};

/// Details that are listed, but not lost.
struct Rounding {
  std::uint32_t vanish = 0, fuse = 0;
  double vanish_mm3 = 0, fuse_mm3 = 0;
  double deepest_mm = 0;            ///< greatest depth of those that were looked at
  std::uint32_t not_looked_at = 0;  ///< deep enough to be lost, but beyond the number that is looked at closely
};

/// Whether bulk bonds: the layer, of those that have bulk, on which it is least sure.
struct Bulk {
  double bond_time_s = 0;  ///< at that layer's height
  double margin = 0;       ///< the layer's time over it
  double chance = 0;       ///< that bulk does not bond there
  std::uint32_t layer = 0;
};

/// What a check at one exposure finds (docs/verdicts.md); normal layers only.
struct SweepPoint {
  double exposure_s = 0;
  std::uint32_t vanish = 0, fuse = 0;   ///< lost `will` details
  double vanish_mm3 = 0, fuse_mm3 = 0;  ///< of those
  double expected_losses = 0;           ///< chances of all lost details, of both states, added up
  double expected_mm = 0;               ///< the same of chance x harm
  double expected_fuse_mm = 0;          ///< of that, what gaps have in it; the rest is that of parts
  double uncured_share = 0;     ///< of the normal layers' volume, crumbs and rounding included; 1 where all fails
  std::uint32_t half_lost = 0;  ///< losses of another row, not listed here, that mostly go here too; set by suggest()
  /// Chance that bulk does not bond; 1 where the print as a whole fails; unset where nothing is bulk.
  std::optional<double> bulk_chance;
};

/// One time with what would be lost there.
struct TimeRow {
  SweepPoint point;
  std::vector<Detail> lost;    ///< of normal layers, both states, worst first; empty where the print as a whole fails
  bool whole_fails = false;    ///< bulk fails (50 % or more), or more than half of the print's volume vanishes
  double shared_load_mm3 = 0;  ///< of the largest SharedLoad
};

/// Something that comes loose because of a detail: a piece of the predicted print that begins with nothing beneath it
/// although the mask had something there.
struct Fall {
  std::uint32_t layer = 0;  ///< where it begins
  bool loose = true;        ///< nothing else holds it; false: it starts on nothing, but joins a sound body later
  BoxMm box;                ///< of the loose body, or of the piece that starts on nothing
  double volume_mm3 = 0;    ///< likewise
  std::vector<std::uint32_t> details;  ///< ids of the details it hung on, rising; empty when it hung on crumbs only
};

/// What several parts hold together, each of which may be lost, while no single one of them carries it.
struct SharedLoad {
  std::uint32_t layer = 0;  ///< where it begins
  BoxMm box;                ///< of what is held
  double volume_mm3 = 0;    ///< likewise
  std::uint32_t parts = 0;  ///< that hold it
};

struct RiskSettings {
  double least_chance = 0.05;              ///< a voxel is part of a detail from this chance on
  double least_detail_mm3 = 0.001;         ///< smaller details are crumbs
  double least_flat_detail_mm3 = 0.004;    ///< the same for details of one layer only
  double dose_spread = usual_dose_spread;  ///< process spread of dose, standard deviation of ln
  double visible_mm = 0.1;                 ///< a detail is lost only from this depth on ...
  double lost_share = 0.3;                 ///< ... and from this share of the drawn part on,
  double lost_reach_mm = 0.5;              ///< ... or this far from what stays
  double lost_carried_mm3 = 0.1;           ///< ... or, however flat, when it carries this much
  std::uint32_t most_looked_at = 500;      ///< at one time
};

/// A piece of a layer that stands on gaps which close: at least 4 of its pixels and a tenth of its area.
struct Propped {
  std::uint32_t layer = 0;
  std::uint64_t area_px = 0;
  BoxPx box;
};

/// Everything the masks and the record say of a job.
struct RiskFound {
  std::vector<Detail>
      details;  ///< at the judged time; in the order of their ids; empty where the print fails as a whole
  Crumbs crumbs;
  Rounding rounding;
  std::optional<Bulk> bulk, base_bulk;   ///< normal layers; base and transition layers; unset where none has bulk
  double bulk_lost_mm3 = 0;              ///< bulk that does not bond at the judged time
  double base_vanish_mm3 = 0;            ///< of base and transition layers
  double uncured_share = 0;              ///< as SweepPoint::uncured_share, at the judged time
  double normal_mm3 = 0;                 ///< solid of the normal layers
  double solid_mm3 = 0;                  ///< of all layers
  bool whole_fails = false;              ///< as TimeRow::whole_fails
  std::vector<Fall> falls;               ///< biggest first
  std::vector<SharedLoad> shared_loads;  ///< biggest first
  std::vector<TimeRow> rows;             ///< rising in time, one for each of RiskContext::times_s
  std::vector<Propped> propped;          ///< falling layers
};

/// The part of a job the tracker needs beside the layers.
struct RiskContext {
  CureModel model;
  Pitch pitch;
  Size size;
  std::vector<PrintedLayer> layers;
  double exposure_s = 0;          ///< judged normal exposure
  std::vector<double> times_s;    ///< of the rows, rising; `exposure_s` is one of them
  std::optional<double> stood_s;  ///< shortest exposure at which a coupon stood, at the record's layer height
  RiskSettings settings;
};

/// Chance that bulk of a layer of this height does not bond in `time_s` (the layer's own). The record's spread of the
/// bond time counts only below the times at which a coupon stood.
double bulk_chance(const RiskContext& context, double height_mm, double time_s);
/// Bulk under this chance not to bond is sure to.
inline constexpr double sure_bulk_chance = 0.001;
/// The layer's own time from which its bulk is sure to bond.
double sure_bond_s(const RiskContext& context, double height_mm);

/// The critical range the exposure pass has to list for this context (wide enough for every voxel's own certainty).
ExposureSettings critical_range(const RiskContext& context);

/// What the tracker needs of one layer's geometry.
struct RiskLayer {
  std::uint32_t number = 0;  ///< 1-based
  Mask solid;
  Pieces pieces;                        ///< of `solid`
  ThinPlaces thin;                      ///< likewise
  std::vector<Contact> contacts_above;  ///< as for IslandTracker::add
};

/// Gives a layer's solid again.
using SolidOf = std::function<Result<Mask>(std::uint32_t)>;

/// Collects critical layers, top down, into details. Memory: open details and what was found.
class RiskTracker {
 public:
  explicit RiskTracker(RiskContext context);
  ~RiskTracker();
  RiskTracker(RiskTracker&&) noexcept;
  RiskTracker& operator=(RiskTracker&&) noexcept;

  /// Geometry of the next layer, from the top one down to layer 1; kept until its critical lists arrive.
  void add_layer(RiskLayer layer);
  /// Final critical lists of a layer, in falling order.
  /// Stops once it would hold more than `most_bytes`: `bytes` is more then, and nothing else may be called.
  void add_critical(CriticalLayer critical, std::uint64_t most_bytes = UINT64_MAX);
  /// Memory held, and what `finish` and the report will take. Same layers, same number.
  std::uint64_t bytes() const;
  /// After layer 1 and the last critical lists; once. `solid_of`: for a close look at the places that matter. Fails as
  /// `solid_of` does, and with unreadable where a temporary file cannot be read back.
  Result<RiskFound> finish(const SolidOf& solid_of);
  /// After `finish`: pictures of the details with these ids, in this order, at the judged time and, where it is another
  /// one of the rows, at `suggested_s`. `solid_of` as above.
  Result<std::vector<DetailPictures>> draw(const std::vector<std::uint32_t>& ids, double suggested_s,
                                           const SolidOf& solid_of) const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace hairline
