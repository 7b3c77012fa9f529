#include "detail_sum.hpp"

#include <algorithm>
#include <iterator>
#include <utility>

namespace hairline::risk {
namespace {

void unite(std::vector<std::uint32_t>& into, const std::vector<std::uint32_t>& from) {
  if (from.empty()) return;
  std::vector<std::uint32_t> all;
  all.reserve(into.size() + from.size());
  std::set_union(into.begin(), into.end(), from.begin(), from.end(), std::back_inserter(all));
  into = std::move(all);
}

}  // namespace

void DetailSum::absorb(DetailSum&& other) {
  voxels += other.voxels;
  flipped += other.flipped;
  volume_mm3 += other.volume_mm3;
  box = join(box, other.box);
  from_layer = std::min(from_layer, other.from_layer);
  to_layer = std::max(to_layer, other.to_layer);
  if (other.width_mm < width_mm) {
    width_mm = other.width_mm;
    flat = other.flat;
  }
  bins.join(std::move(other.bins));
}

void Bonds::absorb(const Bonds& other) {
  unite(held, other.held);
  unite(resting, other.resting);
  unite(starts, other.starts);
}

void note(std::vector<std::uint32_t>& sorted, std::uint32_t number) {
  const auto at = std::lower_bound(sorted.begin(), sorted.end(), number);
  if (at == sorted.end() || *at != number) sorted.insert(at, number);
}

}  // namespace hairline::risk
