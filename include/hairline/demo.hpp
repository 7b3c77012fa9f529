/// Demo jobs and records of an invented workshop: a harbour museum that prints ship and lighthouse models. Everything
/// is drawn from code; the same call writes the same bytes on any machine.
#pragma once
#include <cstdint>
#include <filesystem>
#include <functional>
#include <string>
#include <vector>

#include "hairline/draw.hpp"
#include "hairline/progress.hpp"
#include "hairline/record.hpp"
#include "hairline/result.hpp"
#include "hairline/settings.hpp"

namespace hairline {

/// One model to print: its job settings and how a layer is drawn.
struct DemoJob {
  std::string file_name;  ///< "gallery-small.zip"
  JobSettings settings;
  /// Draws what lies at height `z_mm` above the plate (a layer's middle) onto an empty canvas of settings.size.
  std::function<void(Canvas& canvas, double z_mm)> draw;
};

/// Small jobs, seconds to check: gallery-small.zip (gallery railing with pickets of 1 to 4 pixels, lantern, name plate,
/// portholes of 2 to 10 pixels, a ship with a floating block), nameplate.zip, rigging.zip, hull.zip.
std::vector<DemoJob> small_demo_jobs();
/// lighthouse-night.zip: 1800 layers of 1440 x 2560 pixels at 0.05 mm.
DemoJob night_demo_job();
/// Layer `number` (1-based) of a job, with grey edges.
Layer draw_demo_layer(const DemoJob& job, std::uint32_t number);

/// harbour-grey.json: a sound record; old-lamp.json: the same resin under a lamp of 2100 hours, months ago.
ResinRecord harbour_grey_record();
ResinRecord old_lamp_record();

struct DemoSettings {
  bool night_long = true;  ///< also write lighthouse-night.zip
};

/// Writes jobs and records into `dir` (made if missing; files of the same names are replaced). Returns the paths
/// written, jobs first. `progress`, if given, counts layers and can cancel; no half-written file is left. Fails with
/// unwritable, cancelled.
Result<std::vector<std::filesystem::path>> write_demo(const std::filesystem::path& dir,
                                                      const DemoSettings& settings = {}, Progress* progress = nullptr);

}  // namespace hairline
