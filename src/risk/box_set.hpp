/// Boxes that others may overlap, found by where they lie.
#pragma once
#include <algorithm>
#include <tuple>
#include <utility>
#include <vector>

#include "hairline/risk.hpp"

namespace hairline {

class BoxSet {
 public:
  explicit BoxSet(std::vector<BoxMm> boxes) : boxes_(std::move(boxes)) {
    const auto place = [](const BoxMm& box) { return std::tuple{box.from.x, box.from.y, box.from.z}; };
    std::sort(boxes_.begin(), boxes_.end(), [&](const BoxMm& a, const BoxMm& b) { return place(a) < place(b); });
    for (std::size_t i = 0; i < boxes_.size(); ++i) {
      if (i % some == 0) around_.push_back(boxes_[i]);
      around_.back() = join(around_.back(), boxes_[i]);
      widest_mm_ = std::max(widest_mm_, boxes_[i].to.x - boxes_[i].from.x);
    }
  }
  bool overlaps(const BoxMm& box) const {
    const auto index_from = [&](double x_mm) {
      const auto at = std::lower_bound(boxes_.begin(), boxes_.end(), x_mm,
                                       [](const BoxMm& one, double mm) { return one.from.x < mm; });
      return static_cast<std::size_t>(at - boxes_.begin());
    };
    const std::size_t first = index_from(box.from.x - widest_mm_), last = index_from(box.to.x);
    for (std::size_t k = first / some; k * some < last; ++k) {
      if (!overlap(around_[k], box)) continue;
      for (std::size_t i = k * some; i < std::min(last, (k + 1) * some); ++i)
        if (overlap(boxes_[i], box)) return true;
    }
    return false;
  }

 private:
  static constexpr std::size_t some = 32;
  std::vector<BoxMm> boxes_;   // by where they begin
  std::vector<BoxMm> around_;  // so many of them in turn
  double widest_mm_ = 0;
};

}  // namespace hairline
