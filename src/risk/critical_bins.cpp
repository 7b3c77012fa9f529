#include "critical_bins.hpp"

#include <algorithm>
#include <bit>

namespace hairline::risk {
namespace {

constexpr std::uint32_t empty_place = UINT32_MAX;

void add_to(CriticalBin& into, const CriticalBin& bin) {
  into.voxels += bin.voxels;
  into.log_critical += bin.log_critical;
  into.blur_slope += bin.blur_slope;
  into.depth_slope += bin.depth_slope;
}

}  // namespace

void CriticalBins::add(const CriticalBin& bin) {
  if (bins_.size() <= few) {
    for (CriticalBin& old : bins_) {
      if (old.bin == bin.bin) return add_to(old, bin);
    }
    if (bins_.empty()) bins_.reserve(4);
    bins_.push_back(bin);
    if (bins_.size() > few) make_table();
    return;
  }
  std::uint32_t& at = place(bin.bin);
  if (at != empty_place) return add_to(bins_[at], bin);
  at = static_cast<std::uint32_t>(bins_.size());
  bins_.push_back(bin);
  if (2 * bins_.size() > table_.size()) make_table();
}

void CriticalBins::join(CriticalBins&& other) {
  if (other.bins_.size() > bins_.size()) std::swap(*this, other);
  for (const CriticalBin& bin : other.bins_) add(bin);
}

// Where in the table a bin is, or would be.
std::uint32_t& CriticalBins::place(std::int32_t bin) {
  const std::size_t mask = table_.size() - 1;
  std::size_t i = (static_cast<std::uint32_t>(bin) * 2654435769u >> 7) & mask;  // Knuth's multiplicative hash
  while (table_[i] != empty_place && bins_[table_[i]].bin != bin) i = (i + 1) & mask;
  return table_[i];
}

void CriticalBins::make_table() {
  table_.assign(std::bit_ceil(4 * bins_.size()), empty_place);
  for (std::size_t i = 0; i < bins_.size(); ++i) place(bins_[i].bin) = static_cast<std::uint32_t>(i);
}

std::vector<CriticalBin> CriticalBins::sorted() const {
  std::vector<CriticalBin> out = bins_;
  std::sort(out.begin(), out.end(), [](const CriticalBin& a, const CriticalBin& b) { return a.bin < b.bin; });
  return out;
}

MedianCritical median(const std::vector<CriticalBin>& bins) {
  std::uint64_t voxels = 0;
  for (const CriticalBin& bin : bins) voxels += bin.voxels;
  std::uint64_t before = 0;
  for (const CriticalBin& bin : bins) {
    before += bin.voxels;
    if (2 * before < voxels) continue;
    const auto n = static_cast<double>(bin.voxels);
    const MedianCritical lower{std::exp(bin.log_critical / n), bin.blur_slope / n, bin.depth_slope / n};
    if (2 * before > voxels) return lower;
    // An even number, and the middle two lie in this bin and the next: their mean.
    const CriticalBin& next = *(&bin + 1);
    const auto m = static_cast<double>(next.voxels);
    return {0.5 * (lower.critical_s + std::exp(next.log_critical / m)), 0.5 * (lower.blur_slope + next.blur_slope / m),
            0.5 * (lower.depth_slope + next.depth_slope / m)};
  }
  return {};
}

void LossVolume::add(double log_critical, double mm3) {
  const std::int32_t bin = bin_of(log_critical);
  if (mm3_.empty()) first_ = bin;
  if (bin < first_) {
    mm3_.insert(mm3_.begin(), static_cast<std::size_t>(first_ - bin), 0.0);
    first_ = bin;
  }
  const auto at = static_cast<std::size_t>(bin - first_);
  if (at >= mm3_.size()) mm3_.resize(at + 1);
  mm3_[at] += mm3;
}

LossCurve LossVolume::curve() const {
  LossCurve out;
  for (std::size_t i = 0; i < mm3_.size(); ++i) {
    if (mm3_[i] > 0) out.bins.emplace_back(first_ + static_cast<std::int32_t>(i), mm3_[i]);
  }
  return out;
}

}  // namespace hairline::risk
