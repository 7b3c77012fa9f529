/// Boxes that others may overlap, found by where they lie.
#pragma once
#include <algorithm>
#include <cstdint>
#include <numeric>
#include <tuple>
#include <vector>

#include "hairline/risk.hpp"

namespace hairline {

class BoxSet {
 public:
  explicit BoxSet(const std::vector<BoxMm>& boxes) : number_(boxes.size()) {
    std::iota(number_.begin(), number_.end(), std::uint32_t{0});
    const auto place = [&](std::uint32_t i) {
      return std::tuple{boxes[i].from.x, boxes[i].from.y, boxes[i].from.z, i};
    };
    std::sort(number_.begin(), number_.end(), [&](std::uint32_t a, std::uint32_t b) { return place(a) < place(b); });
    for (std::size_t i = 0; i < number_.size(); ++i) {
      boxes_.push_back(boxes[number_[i]]);
      if (i % some == 0) around_.push_back(boxes_[i]);
      around_.back() = join(around_.back(), boxes_[i]);
      widest_mm_ = std::max(widest_mm_, boxes_[i].to.x - boxes_[i].from.x);
    }
  }
  bool overlaps(const BoxMm& box) const {
    return any_overlapping(box, [](std::uint32_t) { return true; });
  }
  /// Calls is_it(number) for boxes that overlap one, by their places in what was given, until it says yes. Did it?
  bool any_overlapping(const BoxMm& box, auto is_it) const { return any_from(box.from.x - widest_mm_, box, is_it); }
  /// Calls see(number) for all that overlap one and begin no further left.
  void each_beginning_in(const BoxMm& box, auto see) const {
    any_from(box.from.x, box, [&](std::uint32_t number) { return see(number), false; });
  }

 private:
  bool any_from(double from_mm, const BoxMm& box, auto is_it) const {
    const auto index_from = [&](double x_mm) {
      const auto at = std::lower_bound(boxes_.begin(), boxes_.end(), x_mm,
                                       [](const BoxMm& one, double mm) { return one.from.x < mm; });
      return static_cast<std::size_t>(at - boxes_.begin());
    };
    const std::size_t first = index_from(from_mm), last = index_from(box.to.x);
    for (std::size_t k = first / some; k * some < last; ++k) {
      if (!overlap(around_[k], box)) continue;
      for (std::size_t i = std::max(first, k * some); i < std::min(last, (k + 1) * some); ++i)
        if (overlap(boxes_[i], box) && is_it(number_[i])) return true;
    }
    return false;
  }

  static constexpr std::size_t some = 32;
  std::vector<std::uint32_t> number_;  // of each box
  std::vector<BoxMm> boxes_;           // by where they begin
  std::vector<BoxMm> around_;          // so many of them in turn
  double widest_mm_ = 0;
};

}  // namespace hairline
