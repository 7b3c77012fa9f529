#include "critical_bins.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <utility>

namespace hairline::risk {
namespace {

MedianCritical means(const CriticalBin& bin) {
  const auto n = static_cast<double>(bin.voxels);
  return {std::exp((bin.bin + static_cast<double>(bin.beyond) / n) / median_bins),
          static_cast<double>(bin.blur_slope) / n, static_cast<double>(bin.depth_slope) / n};
}

}  // namespace

void CriticalBins::add_new(const CriticalBin& bin) {
  if (count_ < few) {
    bins_.push_back(bin);
    ++count_;
    return;
  }
  if (count_ == few) make_table(4 * few);
  place(bin.bin) = bin;
  if (3 * ++count_ > 2 * bins_.size()) make_table(2 * bins_.size());
}

void CriticalBins::join(CriticalBins&& other) {
  if (other.count_ > count_) std::swap(*this, other);
  for (const CriticalBin& bin : other.bins_) {
    if (bin.voxels > 0) add(bin);
  }
}

void CriticalBins::make_table(std::size_t size) {
  const auto old = std::exchange(bins_, decltype(bins_)(size));
  for (const CriticalBin& bin : old) {
    if (bin.voxels > 0) place(bin.bin) = bin;
  }
}

MedianCritical CriticalBins::median() const {
  std::vector<CriticalBin> bins;
  bins.reserve(count_);
  std::copy_if(bins_.begin(), bins_.end(), std::back_inserter(bins),
               [](const CriticalBin& bin) { return bin.voxels > 0; });
  std::sort(bins.begin(), bins.end(), [](const CriticalBin& a, const CriticalBin& b) { return a.bin < b.bin; });
  std::uint64_t voxels = 0;
  for (const CriticalBin& bin : bins) voxels += bin.voxels;
  std::uint64_t before = 0;
  for (const CriticalBin& bin : bins) {
    before += bin.voxels;
    if (2 * before < voxels) continue;
    const MedianCritical lower = means(bin);
    if (2 * before > voxels) return lower;
    // An even number, and the middle two lie in this bin and the next: their mean.
    const MedianCritical upper = means(*(&bin + 1));
    return {0.5 * (lower.critical_s + upper.critical_s), 0.5 * (lower.blur_slope + upper.blur_slope),
            0.5 * (lower.depth_slope + upper.depth_slope)};
  }
  return {};
}

void LossVolume::reach(std::int32_t bin) {
  if (mm3_.empty()) first_ = bin;
  if (bin < first_) {
    mm3_.insert(mm3_.begin(), static_cast<std::size_t>(first_ - bin), 0.0);
    first_ = bin;
  }
  const auto at = static_cast<std::size_t>(bin - first_);
  if (at >= mm3_.size()) mm3_.resize(at + 1);
}

LossCurve LossVolume::curve() const {
  LossCurve out;
  for (std::size_t i = 0; i < mm3_.size(); ++i) {
    if (mm3_[i] > 0) out.bins.emplace_back(first_ + static_cast<std::int32_t>(i), mm3_[i]);
  }
  return out;
}

}  // namespace hairline::risk
