/// How every threshold of docs/exposure.md and docs/verdicts.md is compared: what differs by the last bits alone is
/// equal.
#pragma once

namespace hairline {

inline constexpr double tolerance = 1e-6;

inline bool at_least(double value, double bound) {
  return value >= bound - tolerance;
}
inline bool over(double value, double bound) {
  return value > bound + tolerance;
}

}  // namespace hairline
