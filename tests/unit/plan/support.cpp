#include "support.hpp"

#include <algorithm>
#include <cmath>

namespace hairline::plan_test {
namespace {

Contender contender(Fate fate, double critical_s, double width_mm, double log_sd) {
  Contender c;
  c.fate = fate;
  c.from_layer = 11, c.to_layer = 20;
  c.box = {{1, 1, 0.5}, {2, 2, 1}};
  c.volume_mm3 = 0.1;
  c.width_mm = width_mm;
  c.critical_exposure_s = critical_s;
  c.log_sd = log_sd;
  return c;
}

void add_to_curve(const Contender& c, LossCurve& curve) {
  const auto bin = static_cast<std::int32_t>(std::floor(1000 * std::log(c.critical_exposure_s)));
  for (auto& [at, mm3] : curve.bins) {
    if (at != bin) continue;
    mm3 += c.volume_mm3;
    return;
  }
  curve.bins.emplace_back(bin, c.volume_mm3);
  std::sort(curve.bins.begin(), curve.bins.end());
}

}  // namespace

CureModel model() {
  CureModel m;
  m.bond_time_s = 1.6, m.fuse_time_s = 0.55, m.blur_mm = 0.06, m.penetration_depth_mm = 0.16;
  m.valid_from_s = 1, m.valid_to_s = 5;
  return m;
}

Contender vanishing(double critical_s, double log_sd) {
  return contender(Fate::vanish, critical_s, wall_limit_mm(model(), critical_s), log_sd);
}
Contender fusing(double critical_s, double log_sd) {
  return contender(Fate::fuse, critical_s, slot_limit_mm(model(), critical_s), log_sd);
}
Contender flat(double critical_s, double log_sd) {
  Contender c = contender(Fate::fuse, critical_s, flat_slot_limit_mm(model(), critical_s), log_sd);
  c.flat = true;
  return c;
}

Suggestion suggest_for(const Job& job, std::vector<Contender> contenders) {
  RiskContext risk;
  risk.model = job.model;
  risk.size = {100, 100};
  for (int n = 0; n < 40; ++n)
    risk.layers.push_back({0.05, job.exposure_s * job.factor, job.factor, LayerKind::normal, 0.05 * n});
  risk.exposure_s = job.exposure_s;
  risk.range_from_s = job.model.valid_from_s;
  risk.range_to_s = job.model.valid_to_s;
  RiskFound found;
  found.contenders = std::move(contenders);
  for (const Contender& c : found.contenders)
    add_to_curve(c, c.fate == Fate::vanish ? found.vanish_curve : found.fuse_curve);
  return suggest(found, {risk, 0.05, job.base_s, job.base_readings, job.islands, job.sweep});
}

}  // namespace hairline::plan_test
