/// Critical exposures of many voxels in bins of 0.1 %: enough for a median, and for the volume lost at any time.
#pragma once
#include <cmath>
#include <cstdint>
#include <vector>

#include "hairline/risk.hpp"

namespace hairline::risk {

/// Bin b holds ln(critical_s) in [b, b + 1) / 1000.
inline std::int32_t bin_of(double log_critical) {
  return static_cast<std::int32_t>(std::floor(1000 * log_critical));
}

/// Voxels of one bin, with the sums of their slopes.
struct CriticalBin {
  std::int32_t bin = 0;
  std::uint64_t voxels = 0;
  double log_critical = 0, blur_slope = 0, depth_slope = 0;  ///< sums over the voxels
};

/// Bins of a detail, in the order in which they first came, each once; a table finds them where they are many.
class CriticalBins {
 public:
  void add(const CriticalBin& bin);
  /// Takes over what another detail has.
  void join(CriticalBins&& other);
  std::vector<CriticalBin> sorted() const;

 private:
  static constexpr std::size_t few = 8;
  std::uint32_t& place(std::int32_t bin);
  void make_table();
  std::vector<CriticalBin> bins_;
  std::vector<std::uint32_t> table_;  // open addressing: index into bins_, or empty; at most half full
};

/// Middle of the voxels' critical exposures, with the mean slopes there.
struct MedianCritical {
  double critical_s = 0, blur_slope = 0, depth_slope = 0;
};
MedianCritical median(const std::vector<CriticalBin>& bins);

/// Volume that flips, by critical exposure.
class LossVolume {
 public:
  void add(double log_critical, double mm3);
  LossCurve curve() const;

 private:
  std::int32_t first_ = 0;
  std::vector<double> mm3_;  // bin first_ + i at i
};

}  // namespace hairline::risk
