/// Details at risk: critical voxels joined over layers, how surely they flip, and what falls with them
/// (design 6.7, 6.8).
#pragma once
#include <array>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "hairline/exposure.hpp"
#include "hairline/measure.hpp"
#include "hairline/model.hpp"
#include "hairline/settings.hpp"
#include "hairline/track.hpp"

namespace hairline {

enum class Fate : std::uint8_t { vanish, fuse };

struct PlaceMm {
  double x = 0, y = 0, z = 0;
};
/// Box in mm: plate coordinates of its lowest and highest corner.
struct BoxMm {
  PlaceMm from, to;
};

/// A connected piece, over layers, that flips.
struct Detail {
  std::uint32_t id = 0;  ///< 1-based, worst first
  Fate fate = Fate::vanish;
  std::uint32_t from_layer = 0, to_layer = 0;
  BoxMm box;
  double volume_mm3 = 0;
  double width_mm = 0;             ///< narrowest wall (gap) inside it; for a flat gap its height
  bool flat = false;               ///< the narrowest gap is a flat one
  double critical_exposure_s = 0;  ///< median of its voxels'
  double log_sd = 0;               ///< spread of ln(critical exposure): record and process together
  double probability = 0;          ///< chance that it flips at the judged exposure
  double lost_fraction = 0;        ///< share of voxels that flip at the judged exposure itself
  bool avoidable = true;           ///< false: flips at every time in the record's valid range
  double carries_mm3 = 0;          ///< solid printed later whose every way to the plate goes through lost voxels
};

/// Details too small to list.
struct Crumbs {
  std::uint32_t vanish = 0, fuse = 0;
  double vanish_mm3 = 0, fuse_mm3 = 0;
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

struct RiskSettings {
  double least_chance = 0.05;       ///< a voxel is part of a detail from this chance on
  double least_detail_mm3 = 0.004;  ///< smaller details are crumbs
  double dose_spread = 0.05;        ///< process spread of dose, standard deviation of ln
};

/// Spread of ln(critical exposure), from the record's covariance (0 without one) and the process spread.
struct Certainty {
  std::optional<LogCovariance> covariance;
  double dose_spread = 0.05;
  double penetration_depth_mm = 0.16, record_height_mm = 0.05;
  /// Slopes: d ln(critical) / d ln(blur) and / d ln(Dp), the latter with `height_slope` added.
  double log_sd(Fate fate, double blur_slope, double depth_slope) const;
  /// What a layer of another height than the record's adds to d ln(critical) / d ln(Dp) (design 6.5).
  double height_slope(Fate fate, double height_mm) const;
};

struct RiskContext;
/// The certainty of a job: the record's covariance and the settings' process spread.
Certainty certainty_of(const RiskContext& context);

/// Chance that something with this critical exposure flips at `exposure_s`.
double chance(Fate fate, double critical_s, double exposure_s, double log_sd);

/// One candidate for the sweep: a detail as it forms over the record's whole valid range.
struct Contender {
  Fate fate = Fate::vanish;
  std::uint32_t from_layer = 0, to_layer = 0;
  BoxMm box;
  double volume_mm3 = 0, width_mm = 0, critical_exposure_s = 0, log_sd = 0;
  bool flat = false;
};

/// Volume that flips, by critical exposure: voxel volume in bins of 0.1 % in exposure (bin = floor(1000 ln critical)).
struct LossCurve {
  std::vector<std::pair<std::int32_t, double>> bins;  ///< sorted; volume mm3
  /// Volume with critical exposure above / at most `exposure_s`.
  double above_mm3(double exposure_s) const;
  double up_to_mm3(double exposure_s) const;
};

struct RiskFound {
  std::vector<Detail> details;  ///< worst first
  Crumbs crumbs;
  std::vector<Fall> falls;  ///< biggest first
  std::vector<Contender> contenders;
  LossCurve vanish_curve, fuse_curve;
};

/// The part of a job the tracker needs beside the layers.
struct RiskContext {
  CureModel model;
  Pitch pitch;
  Size size;
  std::vector<LayerPlan> layers;
  double exposure_s = 0;                    ///< judged normal exposure
  double range_from_s = 0, range_to_s = 0;  ///< exposures the sweep covers (contenders and loss curves)
  RiskSettings settings;
};

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

/// Collects critical layers, top down, into details. Memory: open details and what was found.
class RiskTracker {
 public:
  explicit RiskTracker(RiskContext context);
  ~RiskTracker();
  RiskTracker(RiskTracker&&) noexcept;
  RiskTracker& operator=(RiskTracker&&) noexcept;

  /// Geometry of the next layer, from the top one down to layer 1; kept until its critical lists arrive.
  void add_layer(RiskLayer layer);
  /// Final critical lists of a normal layer, in falling order; base and transition layers have none.
  void add_critical(CriticalLayer critical);
  /// After layer 1 and the last critical lists; once.
  RiskFound finish();

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace hairline
