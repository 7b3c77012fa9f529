/// From what flips at which time to a safer time, and to what has to change where no time saves everything
/// (design 6.9).
#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "hairline/record.hpp"
#include "hairline/risk.hpp"
#include "hairline/verdict.hpp"

namespace hairline {

/// Losses at one exposure time.
struct SweepPoint {
  double exposure_s = 0;
  std::uint32_t vanish = 0, fuse = 0;   ///< details that flip (crumbs left out)
  double vanish_mm3 = 0, fuse_mm3 = 0;  ///< voxels that flip, crumbs included
  double expected_losses = 0;           ///< sum of the details' chances
};

/// How a detail that pulls against the others would have to change to survive at the suggested time.
struct Change {
  Fate fate = Fate::vanish;
  std::uint32_t from_layer = 0, to_layer = 0;
  BoxMm box;
  double width_mm = 0, needed_mm = 0;  ///< as drawn; thickness (wall) or width (gap) it needs
  double needed_px = 0;                ///< the difference, in pixels of the finer pitch
  bool flat = false;
  double critical_exposure_s = 0;
};

struct Suggestion {
  double exposure_s = 0;  ///< rounded to 0.05 s, inside the record's valid range unless `outside_range`
  std::optional<std::array<double, 2>> window_s;  ///< no avoidable detail is at risk inside; none when it is empty
  bool conflict = false;                          ///< no time saves everything avoidable
  bool outside_range = false;
  std::optional<double> base_s;
  std::optional<double> layer_height_mm;  ///< another layer height that would open the window (estimate by design 6.5)
  std::vector<Change> changes;            ///< worst first
  std::string text;                       ///< the suggestion in one or two sentences
  std::vector<std::string> tonight, slicing, modelling;  ///< levers in words, by what they cost
  std::vector<SweepPoint> sweep;
};

struct SweepSettings {
  double from_s = 0, to_s = 0;  ///< 0: the record's valid range
  std::uint32_t steps = 0;      ///< points, ends included; 0: every 0.05 s, at most 60
};

/// Exposures of a sweep, rising.
std::vector<double> sweep_times(const SweepSettings& settings, const CureModel& model);

/// What the plan needs of the job and the record beside the details.
struct PlanContext {
  const RiskContext& risk;
  double layer_height_mm = 0.05;
  std::optional<double> base_s;  ///< the job's
  std::vector<BaseReading> base_readings;
  std::vector<IslandRow> islands;
  SweepSettings sweep;
};

/// Window, safer time, needed changes and levers. Never empty: with nothing at risk it says so.
Suggestion suggest(const RiskFound& found, const PlanContext& context);

}  // namespace hairline
