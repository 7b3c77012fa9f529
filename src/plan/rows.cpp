/// At which times a check looks (docs/verdicts.md, "The time to set").
#include <algorithm>
#include <cmath>

#include "hairline/plan.hpp"

namespace hairline {
namespace {

constexpr double alike_s = 1e-9;
constexpr std::size_t most_rows = 13;

// Rising, no two alike; of two that are alike the job's own stays, digit for digit.
std::vector<double> with_job(std::vector<double> times, double job_s) {
  std::erase_if(times, [&](double t) { return std::abs(t - job_s) < alike_s; });
  times.push_back(job_s);
  std::sort(times.begin(), times.end());
  times.erase(std::unique(times.begin(), times.end(), [](double a, double b) { return b - a < alike_s; }), times.end());
  return times;
}

// Both ends, and between them multiples of 0.05 s about `log_step` apart in log time.
std::vector<double> spread(double from_s, double to_s, double log_step) {
  const int parts = std::max(1, static_cast<int>(std::lround(std::log(to_s / from_s) / log_step)));
  std::vector<double> times{from_s};
  for (int i = 1; i < parts; ++i) {
    const double t = std::round(20 * from_s * std::pow(to_s / from_s, double(i) / parts)) / 20;
    if (t > times.back() + alike_s && t < to_s - alike_s) times.push_back(t);
  }
  times.push_back(to_s);
  return times;
}

}  // namespace

RowTimes row_times(const SweepSettings& settings, const CureModel& model, double job_s) {
  const double from_s = settings.from_s > 0 ? settings.from_s : model.valid_from_s;
  const double to_s = std::max(from_s, settings.to_s > 0 ? settings.to_s : model.valid_to_s);
  if (settings.steps > 1) {
    std::vector<double> times;
    for (std::uint32_t i = 0; i < settings.steps; ++i)
      times.push_back(from_s + (to_s - from_s) * i / (settings.steps - 1));
    return {with_job(std::move(times), job_s), false};
  }
  // The job's own time moves none of them: a check at any row has the same rows beside it.
  for (double log_step = std::log(1.05);; log_step *= 1.02) {
    std::vector<double> times = spread(from_s, to_s, log_step);
    if (times.size() < most_rows) return {with_job(std::move(times), job_s), log_step > std::log(1.06)};
  }
}

}  // namespace hairline
