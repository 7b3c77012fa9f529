/// When a record no longer fits what is about to be printed: notes in plain sentences, and times scaled to another
/// lamp. All thresholds are common practice, no source; each is a setting.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "hairline/model.hpp"
#include "hairline/record.hpp"
#include "hairline/result.hpp"

namespace hairline {

/// What is known of the job and of today. Unset or empty: not known, so nothing is said about it.
struct JobContext {
  std::string today;  ///< YYYY-MM-DD
  std::optional<double> pitch_x_mm, pitch_y_mm;
  std::optional<double> layer_height_mm;
  std::string resin_label, resin_colour, resin_batch, printer_label;
  std::optional<double> lamp_hours, lamp_power_percent, irradiance_mw_per_cm2, resin_temp_c;
};

struct StaleSettings {
  int most_age_days = 30;
  double most_temp_difference_c = 5;
  double most_lamp_hours_difference = 200;
  double power_tolerance_percent = 1;  ///< of the record's lamp power or irradiance
  double pitch_tolerance_percent = 1;
  double height_tolerance_mm = 0.0005;
};

/// What differs, one sentence each, in a fixed order: age, temperature, lamp hours, lamp power, pitch, resin and
/// printer labels, batch, colour, layer height. Empty: nothing speaks against the record.
std::vector<std::string> staleness(const ResinRecord& record, const JobContext& job,
                                   const StaleSettings& settings = {});

/// What the record itself does not say, one sentence each: worth knowing, but nothing against it.
std::vector<std::string> left_unsaid(const ResinRecord& record, const JobContext& job);

/// The record's model for the job's lamp. Dose = irradiance x time, so every time of the model (bond, fuse, valid
/// range) is multiplied by record irradiance / job irradiance, or by the ratio of lamp powers where not both
/// irradiances are known; unchanged where neither is. `factor` is what the times were multiplied with, `note` says so
/// in one sentence (empty at 1). Fails with usage: a power or irradiance of the job that is not over 0.
struct ScaledModel {
  CureModel model;
  double factor = 1;
  std::string note;
};
Result<ScaledModel> scaled_to_lamp(const ResinRecord& record, const CureModel& model, const JobContext& job);

/// The model with every time multiplied by `factor`; blur, penetration depth and covariance of logs stay.
CureModel scaled_times(const CureModel& model, double factor);

}  // namespace hairline
