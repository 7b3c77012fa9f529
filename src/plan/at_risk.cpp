#include "at_risk.hpp"

#include <algorithm>
#include <cmath>

#include "../base/thresholds.hpp"
#include "../risk/box_set.hpp"

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

bool plan::is_grave_risk(const Detail& detail) {
  return may_be_lost(detail) && over(detail.probability * detail.carries_mm3, verdict_bounds.most_risked_mm3);
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

plan::AlsoLost plan::also_lost(const std::vector<TimeRow>& rows, const TimeRow& here, bool surely) {
  if (here.whole_fails) return {};
  const auto boxes_of = [&](Fate fate) {
    std::vector<BoxMm> boxes;
    for (const Detail& detail : here.lost)
      if (detail.fate == fate && detail.state == State::will) boxes.push_back(detail.box);
    return BoxSet(std::move(boxes));
  };
  const BoxSet parts = boxes_of(Fate::vanish), gaps = boxes_of(Fate::fuse);
  const double exposure_s = here.point.exposure_s;
  AlsoLost most;
  for (const TimeRow& row : rows) {
    if (&row == &here) continue;
    AlsoLost of_row{row.point.exposure_s};
    const bool longer = row.point.exposure_s > exposure_s;
    for (const Detail& detail : row.lost) {
      if (detail.state != State::will || !detail.critical_exposure_s) continue;
      const bool vanish = detail.fate == Fate::vanish;
      const bool flips = vanish ? *detail.critical_exposure_s > exposure_s : *detail.critical_exposure_s < exposure_s;
      if (!flips || (surely && vanish != longer) || (vanish ? parts : gaps).overlaps(detail.box)) continue;
      ++(vanish ? of_row.parts : of_row.gaps);
      of_row.harm_mm += detail.probability * std::min(detail.harm_mm, detail.extent_mm);
    }
    if (of_row.losses() > most.losses()) most = of_row;
  }
  return most;
}

bool plan::is_on_doubtful(double shared_load_mm3) {
  return over(shared_load_mm3, verdict_bounds.most_risked_mm3);
}

}  // namespace hairline
