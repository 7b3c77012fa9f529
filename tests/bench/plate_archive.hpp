/// Plates as layer archives, drawn once and kept in a folder; and the job and record they are checked with.
#pragma once
#include <filesystem>
#include <string>

#include "hairline/archive.hpp"
#include "hairline/plan.hpp"
#include "hairline/plates.hpp"

namespace hairline::bench {

/// Invented, of the usual size: 13 taps of blur at the plates' 0.03 mm pixels; with a covariance, as after a fit.
inline constexpr double normal_s = 2.3;
CureModel bench_model();

struct Plate {
  std::string kind = "busy";  ///< a PlateKind's name; "crowded", busy with larger bodies; "noise1", "noise50": percent
  PlateSettings shapes;
  PngFilter filter = PngFilter::none;
  /// Layers of `shapes` that the archive holds, 1-based; `layers` 0: all.
  std::uint32_t first = 1, layers = 0;
  CureModel model = bench_model();
  std::uint32_t count() const { return layers == 0 ? shapes.layers : layers; }
  double pixels() const { return static_cast<double>(shapes.size.width_px) * shapes.size.height_px; }
};

/// "7680x4320x200:busy", or another kind; busy when left out.
Result<Plate> plate_from(const std::string& text);
/// "7680x4320x200 busy grey none"; of a hard plate with how far it turns, "7680x4320x200 gyroid 3 px grey none".
std::string name_of(const Plate& plate);

/// The archive of a plate in `dir`, drawn when it is not there yet.
Result<std::filesystem::path> plate_archive(const Plate& plate, const std::filesystem::path& dir);

ResinRecord bench_record(const CureModel& model = bench_model());
/// What a check of the job with a record of bench_model at `normal_s` works from.
RiskContext bench_risk(const JobSettings& job);

}  // namespace hairline::bench
