/// What chances and ranges are worked out from.
#pragma once
#include "hairline/risk.hpp"

namespace hairline {

/// What the second order adds to a chance: ln(critical exposure) is bent over ln(blur) (docs/exposure.md, "Chance").
struct Bend {
  double shift = 0;  ///< of the mean of ln(critical exposure), for vanish and fuse alike
  double share = 0;  ///< of its variance that comes with blur, 0..1
};

/// Spread of ln(critical exposure), from the record's covariance (0 without one) and the process spread.
struct Certainty {
  std::optional<LogCovariance> covariance;
  double dose_spread = usual_dose_spread;
  double penetration_depth_mm = 0.16, record_height_mm = 0.05;
  bool flat_time = false;  ///< flat gaps have a time, and a spread, of their own
  /// Slopes: d ln(critical) / d ln(blur) and / d ln(Dp), the latter with `height_slope` added. `flat`: of a flat gap.
  double log_sd(Fate fate, double blur_slope, double depth_slope, bool flat = false) const;
  /// What a layer of another height than the record's adds to d ln(critical) / d ln(Dp) (docs/exposure.md, "Other layer
  /// heights").
  double height_slope(Fate fate, double height_mm) const;
  /// `log_excess`: ln of the critical exposure over that of a wide wall (a tall, wide dark gap); `log_sd` as above.
  Bend bend(Fate fate, double blur_slope, double log_excess, double log_sd) const;
};

/// The certainty of a job: the record's covariance and the settings' process spread.
Certainty certainty_of(const RiskContext& context);

/// Chance that something with this critical exposure flips at `exposure_s`.
double chance(Fate fate, double critical_s, double exposure_s, double log_sd, const Bend& bend = {});

/// Critical exposure, s, of a wide wall, or of a tall, wide dark gap, in a layer; base and transition layers: the
/// layer's own time.
double wide_critical_s(const CureModel& model, const PrintedLayer& printed, Fate fate);

}  // namespace hairline
