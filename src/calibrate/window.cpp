// What follows from a fitted model: the window of one size, curves as tables, and the next times worth printing.
#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "../base/numbers.hpp"
#include "hairline/fit.hpp"
#include "parameters.hpp"

namespace hairline {
namespace {

Eigen::Matrix4d covariance_of(const CureModel& model) {
  Eigen::Matrix4d covariance = Eigen::Matrix4d::Zero();
  if (!model.log_covariance) return covariance;
  for (int i = 0; i < 4; ++i) {
    for (int k = 0; k < 4; ++k) {
      covariance(i, k) = (*model.log_covariance)[static_cast<std::size_t>(i)][static_cast<std::size_t>(k)];
    }
  }
  return covariance;
}

// Derivatives of value(model) with respect to the four logs, by central differences.
template <class Value>
Eigen::Vector4d slope(const CureModel& model, Value value) {
  constexpr double h = 1e-5;
  Eigen::Vector4d derivative;
  const Logs logs = logs_of(model);
  for (std::size_t i = 0; i < 4; ++i) {
    Logs up = logs, down = logs;
    up[i] += h;
    down[i] -= h;
    derivative(static_cast<Eigen::Index>(i)) = (value(with_logs(model, up)) - value(with_logs(model, down))) / (2 * h);
  }
  return derivative;
}

double log_from(const CureModel& model, double size_mm) {
  return std::log(model.bond_time_s / wall_light(model, size_mm));
}
double log_to(const CureModel& model, double size_mm) {
  return std::log(model.fuse_time_s / slot_light(model, size_mm));
}

struct Ends {
  Eigen::Vector4d from, to;
};

double window_variance(const Ends& ends, const Eigen::Matrix4d& covariance) {
  return (ends.from.dot(covariance * ends.from) + ends.to.dot(covariance * ends.to)) / 2;
}

// Information that the readings of one more coupon at time t would add (Fisher, linearised at the fit).
Eigen::Matrix4d information(const CureModel& model, double t, const NextPrintSettings& settings) {
  Eigen::Matrix4d sum = Eigen::Matrix4d::Zero();
  const auto add = [&](double (*limit)(const CureModel&, double), double sd_mm) {
    const Eigen::Vector4d derivative = slope(model, [&](const CureModel& m) { return limit(m, t); });
    if (derivative.allFinite()) sum += derivative * derivative.transpose() / (sd_mm * sd_mm);
  };
  // A limit beyond the wedge (0.6 mm) cannot be read on the coupon.
  constexpr double widest_mm = 0.6;
  if (wall_limit_mm(model, t * 0.999) < widest_mm) add(wall_limit_mm, settings.reading_error_mm);
  if (slot_limit_mm(model, t) < widest_mm && t * 0.999 > model.fuse_time_s)
    add(slot_limit_mm, settings.reading_error_mm);
  if (settings.flat_slots && t * 0.999 > model.fuse_time_s &&
      flat_slot_limit_mm(model, t) < 12 * model.layer_height_mm) {
    add(flat_slot_limit_mm, std::hypot(model.layer_height_mm / std::sqrt(12.0), settings.reading_error_mm));
  }
  return sum;
}

// Times a person would type: about 40 of them, in steps of 0.05 s or what is coarser, never under 1.03 bond times.
std::vector<double> candidate_times(const CureModel& model, const NextPrintSettings& settings) {
  const double from = std::max(model.valid_from_s / settings.reach, 1.03 * model.bond_time_s);
  const double to = std::max(model.valid_to_s * settings.reach, 1.2 * from);
  double step = 0.05;
  while ((to - from) / step > 60) step *= 2;
  std::vector<double> times;
  for (long i = std::lround(std::ceil(from / step)); static_cast<double>(i) * step <= to; ++i) {
    times.push_back(std::round(static_cast<double>(i) * step * 1e6) / 1e6);
  }
  return times;
}

std::string reason(const CureModel& model, double t, double before, double after) {
  const char* where =
      t < even_time_s(model) * 0.95   ? "where thin walls begin to fail, which pins the bond time and the blur"
      : t > even_time_s(model) * 1.05 ? "where narrow slots begin to close, which pins the fuse time and the blur"
                                      : "near the even time, where walls and slots are read alike";
  return fmt::format("{} s lies {}; it should shrink the uncertainty of the window from {:.0f} % to {:.0f} %", plain(t),
                     where, 100 * before, 100 * after);
}

}  // namespace

double even_time_s(const CureModel& model) {
  return model.bond_time_s + model.fuse_time_s;
}

double even_size_mm(const CureModel& model) {
  return wall_limit_mm(model, even_time_s(model));
}

Window window(const CureModel& model, double size_mm) {
  Window result;
  result.size_mm = size_mm;
  result.from_s = std::exp(log_from(model, size_mm));
  result.to_s = std::exp(log_to(model, size_mm));
  if (model.log_covariance) {
    const Eigen::Matrix4d covariance = covariance_of(model);
    const Eigen::Vector4d from = slope(model, [&](const CureModel& m) { return log_from(m, size_mm); });
    const Eigen::Vector4d to = slope(model, [&](const CureModel& m) { return log_to(m, size_mm); });
    result.from_log_sd = std::sqrt(std::max(0.0, from.dot(covariance * from)));
    result.to_log_sd = std::sqrt(std::max(0.0, to.dot(covariance * to)));
  }
  return result;
}

Result<std::vector<CurvePoint>> curve_table(const CureModel& model, double from_s, double to_s, std::uint32_t steps) {
  if (!(from_s > 0 && from_s < to_s && std::isfinite(to_s)) || steps < 1 || steps > 100000) {
    return tl::unexpected(Error{ErrorKind::usage, "", std::nullopt,
                                fmt::format("a table from {} s to {} s in {} steps", from_s, to_s, steps),
                                "0 < from < to, and 1 to 100000 steps", "Correct the range."});
  }
  const auto where_any = [](double limit) {
    return std::isfinite(limit) ? std::optional<double>(limit) : std::nullopt;
  };
  std::vector<CurvePoint> table;
  for (std::uint32_t i = 0; i <= steps; ++i) {
    const double t = from_s + (to_s - from_s) * i / steps;
    table.push_back({t, where_any(wall_limit_mm(model, t)), where_any(slot_limit_mm(model, t)),
                     where_any(pin_limit_mm(model, t)), where_any(hole_limit_mm(model, t)),
                     where_any(flat_slot_limit_mm(model, t))});
  }
  return table;
}

Result<std::vector<NextPrint>> next_prints(const ResinRecord& record, const NextPrintSettings& settings) {
  const auto model = fitted_model(record);
  if (!model) return tl::unexpected(model.error());
  if (!model->log_covariance) {
    return tl::unexpected(
        Error{ErrorKind::invalid, record.file, std::nullopt, "the fit has no log_covariance",
              "a fit made from readings, which knows how sure it is",
              "Add readings and run `hairline record fit`; without readings, print at the middle and both "
              "ends of the times you use."});
  }
  const double size = even_size_mm(*model);
  const Ends ends{slope(*model, [&](const CureModel& m) { return log_from(m, size); }),
                  slope(*model, [&](const CureModel& m) { return log_to(m, size); })};
  // The covariance may be singular by rounding: a floor far under any real spread keeps the inverse finite.
  const Eigen::Matrix4d floor = 1e-10 * Eigen::Matrix4d::Identity();
  Eigen::Matrix4d known = (covariance_of(*model) + floor).inverse();
  double before = std::sqrt(window_variance(ends, known.inverse()));
  std::vector<NextPrint> planned;
  auto times = candidate_times(*model, settings);
  while (planned.size() < settings.times && !times.empty()) {
    double best_time = 0, best_sd = before;
    for (const double t : times) {
      const double sd = std::sqrt(window_variance(ends, (known + information(*model, t, settings)).inverse()));
      if (sd < best_sd * (1 - 1e-9)) best_sd = sd, best_time = t;
    }
    if (best_time == 0 || (planned.size() >= 2 && best_sd > before * (1 - settings.least_gain))) break;
    planned.push_back({best_time, before, best_sd, reason(*model, best_time, before, best_sd)});
    known += information(*model, best_time, settings);
    before = best_sd;
    std::erase_if(times, [&](double t) { return std::abs(std::log(t / best_time)) < 0.04; });
  }
  return planned;
}

}  // namespace hairline
