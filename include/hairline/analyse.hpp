/// The whole program as one call: archive -> measures -> light and dose -> details -> verdict -> report.
#pragma once
#include <optional>

#include "hairline/archive.hpp"
#include "hairline/progress.hpp"
#include "hairline/record.hpp"
#include "hairline/report.hpp"

namespace hairline {

struct AnalyseSettings {
  std::optional<double> exposure_s;  ///< overrides the job's normal exposure; > 0
  RiskSettings risk;
  ThicknessSettings thickness;
  SweepSettings sweep;
  std::uint32_t threads = 0;  ///< 0: one per processor
  std::string today;          ///< YYYY-MM-DD, for the record's age; empty: no age is stated
};

/// Checks `job` against `record`, or measures it only when there is none. The report is the same, byte for byte, on any
/// number of threads. Fails with the broken layer nearest the top (layers are read from the top
/// down), or cancelled.
Result<Report> analyse(const Archive& job, const ResinRecord* record, const AnalyseSettings& settings,
                       Progress& progress);

}  // namespace hairline
