/// The whole program as one call: archive -> measures -> light and dose -> details -> verdict -> report.
#pragma once
#include <optional>

#include "hairline/archive.hpp"
#include "hairline/progress.hpp"
#include "hairline/record.hpp"
#include "hairline/report.hpp"
#include "hairline/stale.hpp"

namespace hairline {

struct AnalyseSettings {
  std::optional<double> exposure_s;  ///< overrides the job's normal exposure; > 0
  RiskSettings risk;
  ThicknessSettings thickness;
  SweepSettings sweep;
  std::uint32_t threads = 0;  ///< 0: one per processor
  /// What is known of tonight: the date (empty: no age is stated), lamp, temperature, batch. What the job itself says
  /// (pitch, layer height, labels) is filled in by `analyse`. A lamp of another power or irradiance than the record's
  /// scales its times.
  JobContext tonight;
};

/// Checks `job` against `record`, or measures it only when there is none. The report is the same, byte for byte, on any
/// number of threads. Fails with the broken layer nearest the top (layers are read from the top
/// down), or cancelled.
Result<Report> analyse(const Archive& job, const ResinRecord* record, const AnalyseSettings& settings,
                       Progress& progress);

}  // namespace hairline
