// The parameters of a model as logarithms, in the order of the file.
#pragma once
#include <array>
#include <cmath>

#include "../base/numbers.hpp"
#include "hairline/model.hpp"

namespace hairline {

using Logs = std::array<double, 5>;
inline constexpr std::array<const char*, 5> parameter_names{"bond_time_s", "fuse_time_s", "blur_mm",
                                                            "penetration_depth_mm", "flat_time_s"};

/// How many of them a model has: a flat time only where flat slots were read.
inline std::size_t parameter_count(const CureModel& model) {
  return model.flat_time_s ? 5 : 4;
}

inline Logs logs_of(const CureModel& model) {
  return {std::log(model.bond_time_s), std::log(model.fuse_time_s), std::log(model.blur_mm),
          std::log(model.penetration_depth_mm), std::log(model.flat_time_s.value_or(model.fuse_time_s))};
}

inline CureModel with_logs(CureModel model, const Logs& logs) {
  model.bond_time_s = std::exp(logs[0]);
  model.fuse_time_s = std::exp(logs[1]);
  model.blur_mm = std::exp(logs[2]);
  model.penetration_depth_mm = std::exp(logs[3]);
  if (model.flat_time_s) model.flat_time_s = std::exp(logs[4]);
  return model;
}

/// The flat time as uncertain as the fuse time, and moving with it: where it was not fitted.
inline void spread_like_fuse_time(LogCovariance& covariance) {
  for (std::size_t i = 0; i < 4; ++i) covariance[4][i] = covariance[i][4] = covariance[1][i];
  covariance[4][4] = covariance[1][1];
}

inline CureModel rounded(CureModel model) {
  for (double* value : {&model.bond_time_s, &model.fuse_time_s, &model.blur_mm, &model.penetration_depth_mm})
    *value = six_digits(*value);
  if (model.flat_time_s) model.flat_time_s = six_digits(*model.flat_time_s);
  return model;
}

}  // namespace hairline
