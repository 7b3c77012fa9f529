// Simulated evenings: a true resin, coupons printed at a few times, and what a person would read off them.
#pragma once
#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include "hairline/fit.hpp"
#include "support/random.hpp"

namespace evening {

/// The fixed generator of tests/support with normal and log-uniform draws, so that every machine simulates the same
/// evenings.
class Random : public hairline::test::Random {
 public:
  using hairline::test::Random::Random;
  double between(double low, double high) { return between_real(low, high); }
  double log_between(double low, double high) { return std::exp(between(std::log(low), std::log(high))); }
  double normal() {  // Box and Muller
    const double radius = std::sqrt(-2 * std::log(1 - unit()));
    return radius * std::cos(2 * 3.14159265358979323846 * unit());
  }
};

inline hairline::CureModel true_resin(Random& random) {
  hairline::CureModel model;
  model.bond_time_s = random.log_between(0.8, 4);
  model.fuse_time_s = model.bond_time_s * random.log_between(0.2, 0.6);
  model.blur_mm = random.log_between(0.025, 0.07);
  model.penetration_depth_mm = random.log_between(0.06, 0.25);
  return model;
}

/// 4 to 6 times spread over the usable range of that resin, each a little off an even spacing.
inline std::vector<double> times(const hairline::CureModel& truth, Random& random) {
  const int count = 4 + static_cast<int>(random.unit() * 3);
  std::vector<double> list;
  for (int i = 0; i < count; ++i) {
    const double place = (i + random.between(-0.2, 0.2)) / (count - 1);
    list.push_back(truth.bond_time_s * std::exp(std::log(1.12) + (std::log(2.4) - std::log(1.12)) * place));
  }
  return list;
}

enum class Ruler { wedge, ladder };

inline double step_up(double size_mm) {  // the smallest ISO 3 R10 size that is not below `size_mm`
  const double r10[] = {1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8};
  for (double decade = 0.001; decade < 10; decade *= 10) {
    for (const double step : r10) {
      if (step * decade >= size_mm) return step * decade;
    }
  }
  return 10;
}

/// A pin or a hole of the coupon's own ladder, which begins at 0.1 mm: the first step that stands or stays open.
inline std::optional<double> read_round(double limit_mm) {
  return limit_mm <= 0.63 ? std::optional<double>(std::max(0.1, step_up(limit_mm))) : std::nullopt;
}

/// Wedges of 0.6 mm read with a normal error of 0.01 mm, or ladders read to the next step.
inline std::optional<double> read(double limit_mm, Ruler ruler, Random& random) {
  if (ruler == Ruler::ladder) return limit_mm < 0.6 ? std::optional<double>(step_up(limit_mm)) : std::nullopt;
  const double seen = limit_mm + 0.01 * random.normal();
  if (!(seen < 0.6)) return std::nullopt;
  return std::max(0.01, seen);
}

inline hairline::ResinRecord print_and_read(const hairline::CureModel& truth, const std::vector<double>& exposures,
                                            Ruler ruler, Random& random) {
  hairline::ResinRecord record;
  record.printer.pitch_mm = 0.05;
  for (const double t : exposures) {
    hairline::BracketReading reading;
    reading.exposure_s = t;
    reading.thinnest_wall_mm = read(wall_limit_mm(truth, t), ruler, random);
    reading.narrowest_slot_mm = read(slot_limit_mm(truth, t), ruler, random);
    if (ruler == Ruler::ladder) {
      reading.thinnest_pin_mm = read(pin_limit_mm(truth, t), ruler, random);
      reading.smallest_hole_mm = read(hole_limit_mm(truth, t), ruler, random);
      reading.ladder = true;
    } else {
      reading.reading_error_mm = 0.01;
    }
    record.bracket.push_back(reading);
  }
  return record;
}

}  // namespace evening
