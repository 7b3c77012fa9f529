/// What the stages of the one page (analyse.cpp) know of the job before its first layer is read.
#pragma once
#include <optional>

#include "hairline/analyse.hpp"

namespace hairline {

/// The record a job is held against, made ready for it.
struct Against {
  const ResinRecord& record;
  JobContext tonight;             ///< with what the job says of itself
  std::string lamp_note;          ///< says that the record's times were scaled to tonight's lamp; empty: they were not
  std::vector<BaseReading> base;  ///< at tonight's lamp
  RiskContext risk;
  ExposureContext exposure;
};

struct Job {
  const Archive& archive;
  const JobSettings& settings;
  const AnalyseSettings& asked;
  double normal_s;  ///< normal exposure that is judged
  std::vector<PrintedLayer> layers;
  std::optional<Against> against;  ///< unset: measured only
};

/// `record` null: measured only. All that is passed in must outlive the job. Fails with usage (a time that is none),
/// and as fitted_model, scaled_to_lamp and ExposureContext::create do.
Result<Job> prepare_job(const Archive& archive, const ResinRecord* record, const AnalyseSettings& asked);

}  // namespace hairline
