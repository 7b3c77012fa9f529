/// Critical exposures of many voxels in bins: of 0.4 % for a median, of 0.1 % for the volume lost at any time.
#pragma once
#include <boost/container/small_vector.hpp>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "hairline/risk.hpp"

namespace hairline::risk {

/// Bins to a factor of e: bin b holds ln(critical_s) in [b, b + 1) / bins. Few for medians: the tables of a large
/// detail should stay near the processor, and the mean within a bin says more than its place.
inline constexpr double median_bins = 250, loss_bins = 1000;

inline std::int32_t bin_of(double log_critical, double bins) {
  const double scaled = bins * log_critical;
  const auto bin = static_cast<std::int32_t>(scaled);  // towards zero
  return bin - (scaled < bin ? 1 : 0);
}

/// Voxels of one bin, with sums over them. Small, because a plate can have a million of them; floats lose nothing that
/// counts, since a detail has far fewer than 2^24 runs in a bin.
struct CriticalBin {
  std::uint64_t voxels = 0;
  std::int32_t bin = 0;
  float beyond = 0;  ///< of median_bins ln(critical_s) - bin
  float blur_slope = 0, depth_slope = 0;
  CriticalBin& operator+=(const CriticalBin& other) {
    voxels += other.voxels;
    beyond += other.beyond;
    blur_slope += other.blur_slope;
    depth_slope += other.depth_slope;
    return *this;
  }
};

/// Middle of the voxels' critical exposures, with the mean slopes there.
struct MedianCritical {
  double critical_s = 0, blur_slope = 0, depth_slope = 0;
};

/// Bins of a detail, each once.
class CriticalBins {
 public:
  void add(const CriticalBin& bin) {
    if (CriticalBin* old = find(bin.bin))
      *old += bin;
    else
      add_new(bin);
  }
  void add(std::span<const CriticalBin> bins) {
    for (const CriticalBin& bin : bins) add(bin);
  }
  /// Takes over what another detail has.
  void join(CriticalBins&& other);
  /// Of all voxels; zeros when there are none.
  MedianCritical median() const;

 private:
  static constexpr std::size_t few = 4;
  CriticalBin* find(std::int32_t bin) {
    if (count_ > few) {
      CriticalBin& at = place(bin);
      return at.voxels > 0 ? &at : nullptr;
    }
    for (CriticalBin& one : bins_) {
      if (one.bin == bin) return &one;
    }
    return nullptr;
  }
  /// Where in the table a bin is, or would be. No scattering: neighbouring voxels have bins beside each other.
  CriticalBin& place(std::int32_t bin) {
    const std::size_t mask = bins_.size() - 1;
    std::size_t i = static_cast<std::uint32_t>(bin) & mask;
    while (bins_[i].voxels > 0 && bins_[i].bin != bin) i = (i + 1) & mask;
    return bins_[i];
  }
  void add_new(const CriticalBin& bin);
  void make_table(std::size_t size);

  /// As they came while they are few; else a hash table with open addressing, where no voxels means empty.
  boost::container::small_vector<CriticalBin, few> bins_;
  std::size_t count_ = 0;
};

/// Volume that flips, by critical exposure.
class LossVolume {
 public:
  void add(std::int32_t bin, double mm3) {
    const auto at = static_cast<std::size_t>(std::int64_t{bin} - first_);
    if (at >= mm3_.size()) reach(bin);
    mm3_[static_cast<std::size_t>(bin - first_)] += mm3;
  }
  LossCurve curve() const;

 private:
  void reach(std::int32_t bin);
  std::int32_t first_ = 0;
  std::vector<double> mm3_;  // bin first_ + i at i
};

}  // namespace hairline::risk
