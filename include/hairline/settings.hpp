/// What a job's manifest says besides its masks, as plain values, and what follows from it for each layer.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "hairline/layer.hpp"

namespace hairline {

/// Layers [from_layer, to_layer], 1-based and inclusive, print with another height or time. Unset: as elsewhere.
struct Exception {
  std::uint32_t from_layer = 1, to_layer = 1;
  std::optional<double> height_mm, exposure_s;
  bool operator==(const Exception&) const = default;
};

/// Movement between two layers; unset fields are assumed (see `assumed_motion`) and reported as assumed.
struct Motion {
  std::optional<double> lift_mm, lift_mm_per_min, retract_mm_per_min, rest_before_s, rest_after_s;
  bool operator==(const Motion&) const = default;
};

/// The job as its manifest states it (formats/layer-archive.md).
struct JobSettings {
  std::string title;
  Size size;
  Pitch pitch;
  bool mirrored = false;
  std::uint32_t layer_count = 0;       ///< 0 in a manifest that leaves it out; an opened archive always knows it
  std::string files = "layers/*.png";  ///< where the masks are; the star stands for what holds the layer's number
  double height_mm = 0.05;
  double normal_s = 0;
  std::optional<double> base_s;  ///< unset: the base gets the normal exposure
  std::uint32_t base_layers = 0, transition_layers = 0;
  Motion motion;
  std::optional<double> density_g_per_ml;
  std::string resin_label, printer_label;
  std::vector<Exception> exceptions;  ///< sorted by from_layer, not overlapping
  std::vector<std::string> assumed;   ///< fields the manifest leaves out, in words ("lift height 6 mm")
  std::vector<std::string> remarks;   ///< how the archive was read, as sentences; no part of a manifest
  bool operator==(const JobSettings&) const = default;
};

/// At whose time a layer prints: `normal` layers follow the job's normal exposure (times `factor`); the others have a
/// time of their own, are judged at it, and take no part in the sweep.
enum class LayerKind : std::uint8_t { base, transition, normal };

/// One layer as it will be printed.
struct PrintedLayer {
  double height_mm = 0;
  double exposure_s = 0;  ///< at the job's normal exposure that was asked for
  double factor = 1;      ///< of the normal exposure; 0 in base layers, between 0 and 1 in transition layers
  LayerKind kind = LayerKind::normal;
  double bottom_mm = 0;  ///< height of its lower face above the plate
  double fixed_s = 0;    ///< share of the time that does not follow the normal exposure; 0 in normal layers
  double top_mm() const { return bottom_mm + height_mm; }  ///< height of its upper face
  /// The layer's time at another normal exposure of the job.
  double time_s(double normal_s) const { return fixed_s + factor * normal_s; }
};

/// Plans for layers 1..layer_count (index 0 is layer 1) at the given normal exposure, s > 0.
/// Base layers get base_s (without one they are normal layers, and so are transition layers); the transition layers
/// step in equal parts from base_s to `normal_exposure_s`; an exception's exposure_s is scaled with normal_exposure_s /
/// settings.normal_s on normal layers, and replaces the time of a base or transition layer as it stands.
std::vector<PrintedLayer> printed_layers(const JobSettings& settings, double normal_exposure_s);

/// Seconds the job takes: exposures, lift and retract at constant speed, rests, for every layer.
double duration_s(const JobSettings& settings, const std::vector<PrintedLayer>& layers);

/// What is assumed where the manifest says nothing (common practice, no source).
inline constexpr struct {
  double lift_mm = 6, lift_mm_per_min = 60, retract_mm_per_min = 150, rest_before_s = 0, rest_after_s = 0.5;
} assumed_motion;
inline constexpr double assumed_density_g_per_ml = 1.1;

}  // namespace hairline
