/// Boxes that others may overlap, found by where they lie.
#pragma once
#include <algorithm>
#include <utility>
#include <vector>

#include "hairline/risk.hpp"

namespace hairline {

class BoxSet {
 public:
  explicit BoxSet(std::vector<BoxMm> boxes) : boxes_(std::move(boxes)) {
    std::sort(boxes_.begin(), boxes_.end(), [](const BoxMm& a, const BoxMm& b) { return a.from.x < b.from.x; });
    for (const BoxMm& box : boxes_) widest_mm_ = std::max(widest_mm_, box.to.x - box.from.x);
  }
  bool overlaps(const BoxMm& box) const {
    const auto from_x = [](const BoxMm& one, double x_mm) { return one.from.x < x_mm; };
    const auto first = std::lower_bound(boxes_.begin(), boxes_.end(), box.from.x - widest_mm_, from_x);
    const auto last = std::lower_bound(first, boxes_.end(), box.to.x, from_x);
    return std::any_of(first, last, [&](const BoxMm& one) { return overlap(one, box); });
  }

 private:
  std::vector<BoxMm> boxes_;
  double widest_mm_ = 0;
};

}  // namespace hairline
