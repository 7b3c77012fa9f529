/// The exposure model in closed form: what one fitted resin does, as functions of exposure and size (docs/exposure.md).
///
/// Sources: working curve Cd = Dp ln(E/Ec) (Killgore, UV+EB Technology 2023); closed forms for walls, gaps, pins and
/// holes under Gaussian and Lorentzian spread (derived; Gibson, Rosen, Stucker ch. 4 for the threshold model).
#pragma once
#include <array>
#include <cstdint>
#include <optional>

namespace hairline {

enum class BlurShape : std::uint8_t { gaussian, lorentzian };

/// Row-major covariance of (ln bond_time, ln fuse_time, ln blur, ln penetration_depth, ln flat_time). Its last row and
/// column count only where the model has a flat time.
using LogCovariance = std::array<std::array<double, 5>, 5>;

/// Process spread of dose from print to print and over the plate: standard deviation of ln (common practice, no
/// source). Times closer than this cannot be told apart.
inline constexpr double usual_dose_spread = 0.05;

/// A fitted resin on one printer. All values > 0.
struct CureModel {
  double bond_time_s = 0;  ///< a wide area just cures through its layer and holds
  double fuse_time_s = 0;  ///< light settling in a tall, wide dark area would just cure it
  double blur_mm = 0;      ///< standard deviation (gaussian) or half width g0 (lorentzian) of the lateral spread
  double penetration_depth_mm = 0;  ///< Dp of the working curve
  /// The fuse time of flat gaps, where flat slots were read; unset: they fuse as upright ones do.
  std::optional<double> flat_time_s{};
  BlurShape blur_shape = BlurShape::gaussian;
  double layer_height_mm = 0.05;            ///< height the record was made at
  double valid_from_s = 0, valid_to_s = 0;  ///< exposures the readings cover (docs/calibration.md)
  std::optional<LogCovariance> log_covariance;
};

/// Do the readings cover an exposure? The ends of their range count.
bool covers(const CureModel& model, double exposure_s);

/// exp(-height / Dp): the share of light that passes one layer.
double attenuation(const CureModel& model, double height_mm);
/// bond_time and fuse_time for a layer of another height than the record's (docs/exposure.md).
double bond_time_s(const CureModel& model, double height_mm);
double fuse_time_s(const CureModel& model, double height_mm);
/// Threshold that settled light (in seconds of full light) must reach to fill a gap: fuse_time(h) / (1 - a_record).
double fuse_threshold_s(const CureModel& model, double height_mm);
/// The same for flat gaps: flat time in place of fuse time.
double flat_threshold_s(const CureModel& model, double height_mm);

/// Relative light in the middle of a wall / slot of `size_mm`, a pin / round hole of that diameter; 0..1.
double wall_light(const CureModel& model, double size_mm);
double slot_light(const CureModel& model, double size_mm);
double pin_light(const CureModel& model, double size_mm);
double hole_light(const CureModel& model, double size_mm);

/// Limits at an exposure, mm: thinnest wall (pin) that stands, narrowest upright slot (hole) that stays open, lowest
/// flat slot that stays open. 0 where everything does; infinity where nothing does.
double wall_limit_mm(const CureModel& model, double exposure_s);
double slot_limit_mm(const CureModel& model, double exposure_s);
double pin_limit_mm(const CureModel& model, double exposure_s);
double hole_limit_mm(const CureModel& model, double exposure_s);
double flat_slot_limit_mm(const CureModel& model, double exposure_s);

/// How far outside a straight edge the light has fallen to a share, over 0 and under 1, of full light, mm; negative:
/// inside.
double edge_mm(const CureModel& model, double share);
/// How far a straight edge swells outward at an exposure of its own (a base layer), mm; 0 where it does not.
double flare_mm(const CureModel& model, double exposure_s);

}  // namespace hairline
