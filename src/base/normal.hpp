/// The normal distribution.
#pragma once
#include <cmath>

namespace hairline {

/// Chance of a value under `z` standard deviations from the mean.
inline double normal_cdf(double z) {
  return 0.5 * std::erfc(-z / std::sqrt(2.0));
}

/// z with normal_cdf(z) = chance; within -10 .. 10. By bisection: for what is asked a few times a job.
inline double normal_quantile(double chance) {
  double low = -10, high = 10;
  for (int i = 0; i < 80; ++i) {
    const double z = 0.5 * (low + high);
    (normal_cdf(z) < chance ? low : high) = z;
  }
  return 0.5 * (low + high);
}

}  // namespace hairline
