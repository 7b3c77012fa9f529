#include "support.hpp"

#include <algorithm>
#include <cmath>

#include "risk/certainty.hpp"

namespace hairline::plan_test {
namespace {

Detail detail_of(Fate fate, double critical_s, double width_mm, double log_sd) {
  Detail d;
  d.fate = fate, d.lost = true;
  d.from_layer = 11, d.to_layer = 20;
  d.box = {{1, 1, 0.5}, {2, 2, 1}};
  d.volume_mm3 = 0.1, d.width_mm = width_mm, d.critical_exposure_s = critical_s, d.log_sd = log_sd;
  d.extent_mm = d.harm_mm = 1;
  return d;
}

TimeRow row_at(const RiskContext& context, const std::vector<Detail>& things, double exposure_s, bool has_bulk) {
  TimeRow row;
  SweepPoint& point = row.point;
  point.exposure_s = exposure_s;
  const PrintedLayer& layer = context.layers.front();
  if (has_bulk) point.bulk_chance = bulk_chance(context, layer.height_mm, layer.factor * exposure_s);
  row.whole_fails = point.bulk_chance && *point.bulk_chance >= 0.5;
  if (row.whole_fails) {
    point.bulk_chance = 1;
    return row;
  }
  for (Detail d : things) {
    d.probability = chance(d.fate, *d.critical_exposure_s, exposure_s, d.log_sd);
    if (d.probability < 0.05) continue;
    d.state = d.probability >= 0.5 ? State::will : State::may;
    point.expected_losses += d.probability, point.expected_mm += d.probability * d.harm_mm;
    if (d.state == State::will) {
      (d.fate == Fate::vanish ? point.vanish : point.fuse) += 1;
      (d.fate == Fate::vanish ? point.vanish_mm3 : point.fuse_mm3) += d.volume_mm3;
    }
    row.lost.push_back(d);
  }
  std::stable_sort(row.lost.begin(), row.lost.end(), [](const Detail& a, const Detail& b) {
    return a.probability * a.harm_mm > b.probability * b.harm_mm;
  });
  return row;
}

bool is_avoidable(const RiskContext& context, const std::vector<TimeRow>& rows, const Detail& d) {
  return std::any_of(rows.begin(), rows.end(), [&](const TimeRow& row) {
    const double t = row.point.exposure_s;
    const bool counts = t >= context.model.valid_from_s && t <= context.model.valid_to_s && !row.whole_fails &&
                        row.point.bulk_chance.value_or(0) < 0.001;
    return counts && chance(d.fate, *d.critical_exposure_s, t, d.log_sd) < 0.5;
  });
}

}  // namespace

CureModel model() {
  CureModel m;
  m.bond_time_s = 1.6, m.fuse_time_s = 0.55, m.blur_mm = 0.06, m.penetration_depth_mm = 0.16;
  m.valid_from_s = 1.8, m.valid_to_s = 3.2;
  return m;
}

Detail vanishing(double critical_s, double log_sd) {
  return detail_of(Fate::vanish, critical_s, wall_limit_mm(model(), critical_s), log_sd);
}
Detail fusing(double critical_s, double log_sd) {
  return detail_of(Fate::fuse, critical_s, slot_limit_mm(model(), critical_s), log_sd);
}
Detail flat(double critical_s, double log_sd) {
  Detail d = detail_of(Fate::fuse, critical_s, flat_slot_limit_mm(model(), critical_s), log_sd);
  d.flat = true;
  return d;
}
Detail harmful(Detail detail, double harm_mm) {
  detail.harm_mm = harm_mm;
  return detail;
}

RiskContext context_of(const Job& job) {
  RiskContext risk;
  risk.model = job.model;
  risk.size = {100, 100};
  for (int n = 0; n < 40; ++n) {
    risk.layers.push_back(
        {job.height_mm, job.exposure_s * job.factor, job.factor, LayerKind::normal, job.height_mm * n});
  }
  risk.exposure_s = job.exposure_s;
  risk.times_s = row_times(job.sweep, job.model, job.exposure_s).times_s;
  return risk;
}

RiskFound found_of(const RiskContext& context, const std::vector<Detail>& things, bool has_bulk) {
  RiskFound found;
  for (const double t : context.times_s) found.rows.push_back(row_at(context, things, t, has_bulk));
  for (TimeRow& row : found.rows)
    for (Detail& d : row.lost) d.avoidable = is_avoidable(context, found.rows, d);
  const PrintedLayer& layer = context.layers.front();
  if (has_bulk) {
    Bulk bulk;
    bulk.layer = 1, bulk.bond_time_s = bond_time_s(context.model, layer.height_mm);
    bulk.margin = layer.factor * context.exposure_s / bulk.bond_time_s;
    bulk.chance = bulk_chance(context, layer.height_mm, layer.factor * context.exposure_s);
    found.bulk = bulk;
  }
  for (const TimeRow& row : found.rows) {
    if (std::abs(row.point.exposure_s - context.exposure_s) > 1e-9) continue;
    found.details = row.lost;
    found.whole_fails = row.whole_fails;
  }
  std::uint32_t id = 0;
  for (Detail& d : found.details) d.id = ++id;
  return found;
}

Suggestion suggest_for(const Job& job, const std::vector<Detail>& things) {
  const RiskContext risk = context_of(job);
  return suggest(found_of(risk, things, job.has_bulk),
                 {risk, job.height_mm, job.base_s, job.base_readings, job.islands, {}, job.sweep});
}

bool has(const std::string& text, const std::string& words) {
  return text.find(words) != std::string::npos;
}

}  // namespace hairline::plan_test
