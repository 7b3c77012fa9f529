#include "job.hpp"

#include <fmt/core.h>

#include <cmath>

namespace hairline {
namespace {

Result<void> check_times(double normal_s, const SweepSettings& sweep) {
  const auto wrong = [](std::string found, std::string expected, const char* advice) {
    return tl::unexpected(Error{ErrorKind::usage, "", std::move(found), std::move(expected), advice});
  };
  if (!(normal_s > 0) || !std::isfinite(normal_s))
    return wrong(fmt::format("an exposure of {} s", normal_s), "a time over 0 s",
                 "Give --exposure in seconds, for example 2.5.");
  if (sweep.from_s > 0 && sweep.to_s > 0 && sweep.from_s > sweep.to_s)
    return wrong(fmt::format("times from {:g} to {:g} s", sweep.from_s, sweep.to_s),
                 "a last time that is not before the first", "Give --from the shorter time and --to the longer one.");
  if (sweep.steps > most_sweep_steps)
    return wrong(fmt::format("a sweep of {} times", sweep.steps), fmt::format("at most {} times", most_sweep_steps),
                 "Give fewer --steps.");
  return {};
}

JobContext tonight_of(const Job& job) {
  JobContext tonight = job.asked.tonight;
  tonight.pitch_x_mm = job.settings.pitch.x_mm;
  tonight.pitch_y_mm = job.settings.pitch.y_mm;
  tonight.layer_height_mm = job.settings.height_mm;
  tonight.resin_label = job.settings.resin_label;
  tonight.printer_label = job.settings.printer_label;
  return tonight;
}

Result<Against> hold_against(const ResinRecord& record, const Job& job) {
  const auto fitted = fitted_model(record);
  if (!fitted) return tl::unexpected(fitted.error());
  JobContext tonight = tonight_of(job);
  auto scaled = scaled_to_lamp(record, *fitted, tonight);
  if (!scaled) return tl::unexpected(scaled.error());
  RowTimes rows = row_times(job.asked.sweep, scaled->model, job.normal_s);
  RiskContext risk;
  risk.model = scaled->model;
  risk.pitch = job.settings.pitch;
  risk.size = job.settings.size;
  risk.layers = job.layers;
  risk.exposure_s = job.normal_s;
  risk.times_s = std::move(rows.times_s);
  risk.stood_s = shortest_stood_s(record);
  if (risk.stood_s) *risk.stood_s *= scaled->factor;
  risk.settings = job.asked.risk;
  auto exposure = ExposureContext::create(risk.model, risk.size, risk.pitch, job.layers, critical_range(risk));
  if (!exposure) {
    exposure.error().file = record.file;
    return tl::unexpected(exposure.error());
  }
  std::vector<BaseReading> base = record.base;
  for (BaseReading& reading : base) reading.base_s *= scaled->factor;
  return Against{record,          std::move(tonight), std::move(scaled->note),
                 std::move(base), std::move(risk),    std::move(*exposure)};
}

}  // namespace

Result<Job> prepare_job(const Archive& archive, const ResinRecord* record, const AnalyseSettings& asked) {
  const JobSettings& settings = archive.settings();
  const double normal_s = asked.exposure_s.value_or(settings.normal_s);
  if (auto times = check_times(normal_s, asked.sweep); !times) return tl::unexpected(times.error());
  Job job{archive, settings, asked, normal_s, printed_layers(settings, normal_s), {}};
  if (record == nullptr) return job;
  auto against = hold_against(*record, job);
  if (!against) return tl::unexpected(against.error());
  job.against.emplace(std::move(*against));
  return job;
}

}  // namespace hairline
