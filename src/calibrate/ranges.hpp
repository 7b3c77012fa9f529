// What each number of a record may be (formats/resin-record.md lists the same values): one table for the reader, for
// new readings and for CSV files, so that no door lets in what another refuses.
#pragma once
#include <fmt/format.h>

#include <cmath>
#include <string>

namespace hairline::ranges {

struct Range {
  double low = 0, high = 0;
  bool above_low = false;  ///< low itself is not allowed
  const char* unit = "";

  bool holds(double value) const {
    return std::isfinite(value) && value <= high && (above_low ? value > low : value >= low);
  }
  std::string words() const {
    const std::string tail = *unit ? fmt::format(" {}", unit) : "";
    return above_low ? fmt::format("a number over {} and up to {}{}", low, high, tail)
                     : fmt::format("a number from {} to {}{}", low, high, tail);
  }
};

inline constexpr Range exposure_s{0, 3600, true, "s"};
inline constexpr Range size_mm{0, 5, true, "mm"};
inline constexpr Range reading_error_mm{0, 1, false, "mm"};
inline constexpr Range depth_mm{0, 10, true, "mm"};
inline constexpr Range layers{0, 1000, false, "layers"};
inline constexpr Range pitch_mm{0, 1, true, "mm"};
inline constexpr Range layer_height_mm{0, 1, true, "mm"};
inline constexpr Range lamp_power_percent{0, 1000, true, "percent"};
inline constexpr Range lamp_hours{0, 1e6, false, "h"};
inline constexpr Range irradiance{0, 1000, true, "mW/cm2"};
inline constexpr Range temperature_c{-50, 150, false, "degrees C"};
inline constexpr Range humidity_percent{0, 100, false, "percent"};
inline constexpr Range density{0.1, 10, false, "g/ml"};
inline constexpr Range price{0, 1e6, false, "per litre"};
inline constexpr Range blur_mm{0, 1, true, "mm"};
inline constexpr Range penetration_mm{0, 10, true, "mm"};

}  // namespace hairline::ranges
