/// The whole program as one call: archive -> measures -> light and dose -> details -> verdict -> report.
#pragma once
#include <optional>

#include "hairline/archive.hpp"
#include "hairline/pictures.hpp"
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
  /// Memory the program may take, bytes. 0: half of what there is, and of that no more than 960 MB (a large plate: 400
  /// MB and 12 bytes a pixel).
  std::uint64_t memory_bytes = 0;
  /// What is known of tonight: the date (empty: no age is stated), lamp, temperature, batch. What the job itself says
  /// (pitch, layer height, labels) is filled in by `analyse`. A lamp of another power or irradiance than the record's
  /// scales its times.
  JobContext tonight;
};

/// Checks `job` against `record`, or measures it only when there is none. The report is the same, byte for byte, on any
/// number of threads, and whatever memory suffices. Fails with the broken layer nearest the top (layers are read from
/// the top down), limit (memory), or cancelled. `pictures`: filled in where it is not null; the report is the same.
Result<Report> analyse(const Archive& job, const ResinRecord* record, const AnalyseSettings& settings,
                       Progress& progress, Pictures* pictures = nullptr);

}  // namespace hairline
