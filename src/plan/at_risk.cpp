#include "at_risk.hpp"

#include <algorithm>
#include <cmath>

#include "../base/thresholds.hpp"

namespace hairline {

bool plan::is_named(const Detail& detail) {
  return detail.lost && (detail.state == State::will || detail.harm_mm > 0);
}

bool plan::will_be_lost(const Detail& detail) {
  return is_named(detail) && detail.state == State::will;
}

bool plan::may_be_lost(const Detail& detail) {
  return is_named(detail) && detail.state == State::may;
}

bool plan::has_at_risk(const TimeRow& row) {
  return std::any_of(row.lost.begin(), row.lost.end(), [](const Detail& detail) {
    return detail.avoidable && at_least(detail.probability, chance_at_risk);
  });
}

bool plan::is_grave_risk(const Detail& detail, const VerdictBounds& bounds) {
  return may_be_lost(detail) && over(detail.probability * detail.carries_mm3, bounds.most_risked_mm3);
}

const TimeRow* plan::loss_beside(const std::vector<TimeRow>& rows, const TimeRow& here) {
  if (here.whole_fails || has_at_risk(here)) return nullptr;
  const TimeRow* nearest = nullptr;
  double least = INFINITY;
  for (const TimeRow& row : rows) {
    const double way = std::log(row.point.exposure_s / here.point.exposure_s);
    const bool reached = std::any_of(row.lost.begin(), row.lost.end(), [&](const Detail& detail) {
      return detail.state == State::will && detail.avoidable && (detail.fate == Fate::fuse) == (way > 0) &&
             std::abs(way) < z_between_rows * detail.log_sd;
    });
    if (!reached || std::abs(way) >= least) continue;
    nearest = &row;
    least = std::abs(way);
  }
  return nearest;
}

bool plan::is_on_doubtful(double shared_load_mm3, const VerdictBounds& bounds) {
  return over(shared_load_mm3, bounds.most_risked_mm3);
}

bool plan::is_doubtful(const std::vector<TimeRow>& rows, const TimeRow& row) {
  return is_on_doubtful(row.shared_load_mm3) || loss_beside(rows, row) != nullptr;
}

}  // namespace hairline
