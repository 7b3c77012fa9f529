/// The normal distribution.
#pragma once
#include <cmath>

namespace hairline {

/// Chance of a value under `z` standard deviations from the mean.
inline double normal_cdf(double z) {
  return 0.5 * std::erfc(-z / std::sqrt(2.0));
}

}  // namespace hairline
