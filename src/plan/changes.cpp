/// How thick or wide what stays lost would have to be, and whether another layer height would save it: closed forms of
/// docs/exposure.md.
#include "changes.hpp"

#include <algorithm>
#include <cmath>

#include "../base/thresholds.hpp"
#include "../risk/box_set.hpp"
#include "at_risk.hpp"

namespace hairline {
namespace {

// The model in a layer of this height.
CureModel at_height(const CureModel& model, double height_mm) {
  CureModel here = model;
  here.bond_time_s = bond_time_s(model, height_mm);
  here.fuse_time_s = fuse_time_s(model, height_mm) * (1 - attenuation(model, height_mm)) /
                     (1 - attenuation(model, model.layer_height_mm));
  if (model.flat_time_s) here.flat_time_s = *model.flat_time_s * (here.fuse_time_s / model.fuse_time_s);
  return here;
}

// Is the detail's critical exposure, at its layer, that of a straight wall (slot) of its width? A wall an even number
// of pixels wide has its brightest pixel half a pixel beside its middle (docs/exposure.md).
bool straight(const Detail& detail, const CureModel& here, double critical_s, Pitch pitch) {
  const bool vanish = detail.fate == Fate::vanish;
  const auto light = vanish ? wall_light : slot_light;
  const double threshold_s = vanish ? here.bond_time_s : here.fuse_time_s;
  const auto explains = [&](double share) { return std::abs(std::log(critical_s * share / threshold_s)) < 0.02; };
  if (explains(light(here, detail.width_mm))) return true;
  for (const double p : {pitch.x_mm, pitch.y_mm}) {
    if (detail.width_mm > p && explains(0.5 * (light(here, detail.width_mm + p) + light(here, detail.width_mm - p)))) {
      return true;
    }
  }
  return false;
}

using Limit = double (*)(const CureModel&, double);

// Is it hardly longer, seen from above, than a pin (hole) of its critical exposure, whatever width was measured in it?
bool round(const Detail& detail, double limit_mm, Pitch pitch) {
  const double most_mm = 1.5 * limit_mm;
  return detail.box.to.x - detail.box.from.x < most_mm + 2 * pitch.x_mm &&
         detail.box.to.y - detail.box.from.y < most_mm + 2 * pitch.y_mm;
}

// The limit of the detail's shape. A wall and a pin (a slot and a hole) of one width differ in light; where their boxes
// do not tell, the one that explains the critical exposure better is taken.
Limit limit_of(const Detail& detail, const CureModel& here, double critical_s, Pitch pitch) {
  if (detail.flat) return flat_slot_limit_mm;
  const bool vanish = detail.fate == Fate::vanish;
  const Limit wall = vanish ? wall_limit_mm : slot_limit_mm;
  const Limit pin = vanish ? pin_limit_mm : hole_limit_mm;
  if (round(detail, pin(here, critical_s), pitch)) return pin;
  const auto misfit = [&](Limit limit) { return std::abs(std::log(limit(here, critical_s) / detail.width_mm)); };
  return straight(detail, here, critical_s, pitch) || misfit(wall) <= misfit(pin) ? wall : pin;
}

// The model for a part that may lie anywhere among the pixels. With its middle half a pixel beside the nearest one, and
// with grey edges, a part gets the light of a wider blur (docs/exposure.md, Light): s^2 + p^2 / 4 + p^2 / 6.
CureModel at_worst_place(CureModel model, Pitch pitch) {
  model.blur_mm = std::hypot(model.blur_mm, std::sqrt(5.0 / 12) * std::max(pitch.x_mm, pitch.y_mm));
  return model;
}

// Size at which the detail's chance at `exposure_s` falls under that of being at risk, wherever it lies among the
// pixels. Where a wall is darker (a gap brighter) than its width alone explains, the difference of the limits is added
// to what is drawn. A flat gap is whole layers high.
double needed_mm(const Detail& detail, const RiskContext& risk, double exposure_s) {
  const PrintedLayer& printed = risk.layers[detail.from_layer - 1];
  const CureModel here = at_height(risk.model, printed.height_mm), spread = at_worst_place(here, risk.pitch);
  const double critical_s = *detail.critical_exposure_s * printed.factor;
  const Limit limit = limit_of(detail, here, critical_s, risk.pitch);
  const double margin = std::exp((detail.fate == Fate::vanish ? -1 : 1) * plan::z_at_risk * detail.log_sd);
  double needed = limit(spread, exposure_s * printed.factor * margin);
  if (!std::isfinite(needed))
    needed = limit(spread, exposure_s * printed.factor);  // at least more likely to stay than not
  needed = std::max(needed, detail.width_mm + needed - limit(spread, critical_s));
  const auto layers_mm = [&](double mm) { return printed.height_mm * std::ceil(mm / printed.height_mm - 1e-6); };
  if (detail.flat) return layers_mm(needed);
  if (!detail.roofed) return needed;
  const double flat_mm = flat_slot_limit_mm(here, exposure_s * printed.factor * margin);  // a lying hole, once wider
  return std::max(needed, layers_mm(flat_mm));
}

double safe_limit_mm(Limit limit, Fate fate, const RiskContext& context, double exposure_s) {
  const double margin = std::exp((fate == Fate::vanish ? -1 : 1) * plan::z_at_risk * context.settings.dose_spread);
  return limit(at_worst_place(context.model, context.pitch), exposure_s * margin);
}

// Does a part hold another that is lost at more light still (a gap: at less)?
bool holds_harder(const Detail& detail, const Detail& other) {
  if (other.fate != detail.fate || other.flat != detail.flat || !other.critical_exposure_s) return false;
  const bool vanish = detail.fate == Fate::vanish;
  const bool harder = vanish ? *other.critical_exposure_s > *detail.critical_exposure_s
                             : *other.critical_exposure_s < *detail.critical_exposure_s;
  const BoxMm both = join(detail.box, other.box);
  return harder && both.from == detail.box.from && both.to == detail.box.to;
}

// What is lost at any of the rows, found by its box.
struct LossesByPlace {
  std::vector<const Detail*> all;
  BoxSet boxes;
};
LossesByPlace losses_by_place(const std::vector<TimeRow>& rows) {
  std::vector<const Detail*> all;
  std::vector<BoxMm> boxes;
  for (const TimeRow& row : rows)
    for (const Detail& detail : row.lost) {
      all.push_back(&detail);
      boxes.push_back(detail.box);
    }
  return {std::move(all), BoxSet(boxes)};
}

}  // namespace

double plan::safe_pin_mm(const RiskContext& context, double exposure_s) {
  return safe_limit_mm(pin_limit_mm, Fate::vanish, context, exposure_s);
}

double plan::safe_slot_mm(const RiskContext& context, double exposure_s) {
  return safe_limit_mm(slot_limit_mm, Fate::fuse, context, exposure_s);
}

std::vector<Change> plan::needed_changes(const TimeRow& row, const std::vector<TimeRow>& rows,
                                         const PlanContext& context) {
  const Pitch pitch = context.risk.pitch;
  const LossesByPlace others = losses_by_place(rows);
  std::vector<Change> changes;
  for (const Detail& detail : row.lost) {
    if (!plan::is_named(detail) || !detail.critical_exposure_s || is_grey(detail, context.risk.model)) continue;
    const double step_mm =
        detail.flat ? context.risk.layers[detail.from_layer - 1].height_mm : std::min(pitch.x_mm, pitch.y_mm);
    double needed = needed_mm(detail, context.risk, row.point.exposure_s);
    others.boxes.each_beginning_in(detail.box, [&](std::uint32_t i) {
      const Detail& other = *others.all[i];
      if (!holds_harder(detail, other)) return;
      const double harder = needed_mm(other, context.risk, row.point.exposure_s);
      if (std::isfinite(harder)) needed = std::max(needed, harder);
    });
    if (!std::isfinite(needed)) continue;
    if (!over(needed, detail.width_mm)) needed = detail.width_mm + step_mm;
    const double hundredths = std::max(std::ceil(100 * needed - 1e-6), std::ceil(100 * detail.width_mm - 1e-6) + 1);
    needed = hundredths / 100;
    changes.push_back({detail.fate, detail.from_layer, detail.to_layer, detail.box, detail.width_mm, needed,
                       (needed - detail.width_mm) / step_mm, detail.flat, *detail.critical_exposure_s});
  }
  return changes;
}

double base_bonds_from_s(const RiskFound& found, const RiskContext& context, double base_s) {
  if (!found.base_bulk) return 0;
  const PrintedLayer& worst = context.layers[found.base_bulk->layer - 1];
  return worst.kind == LayerKind::base && worst.fixed_s == base_s ? sure_bond_s(context, worst.height_mm) : 0;
}

// An estimate: the details are taken to keep their light, and only bond and fuse time follow the height.
std::optional<plan::BetterHeight> plan::better_height(const RiskFound& found, const PlanContext& context) {
  const CureModel& model = context.risk.model;
  const double now_mm = context.layer_height_mm;
  const CureModel here = at_height(model, now_mm);
  std::optional<BetterHeight> best;
  for (int i = 2; i <= 10; ++i) {
    const double height_mm = i / 100.0;
    if (std::abs(height_mm - now_mm) < 1e-9) continue;
    const CureModel there = at_height(model, height_mm);
    double from_s = model.valid_from_s, to_s = model.valid_to_s;
    if (found.bulk) from_s = std::max(from_s, sure_bond_s(context.risk, height_mm));
    bool known = false;
    for (const TimeRow& row : found.rows) {
      known = known || !row.whole_fails;
      for (const Detail& detail : row.lost) {
        if (!detail.critical_exposure_s) continue;
        const double critical_s = *detail.critical_exposure_s, margin = std::exp(z_at_risk * detail.log_sd);
        if (detail.fate == Fate::vanish)
          from_s = std::max(from_s, critical_s * there.bond_time_s / here.bond_time_s * margin);
        else
          to_s = std::min(to_s, critical_s * there.fuse_time_s / here.fuse_time_s / margin);
      }
    }
    const bool opens = known && to_s - from_s >= 0.05 * 0.5 * (from_s + to_s);
    if (opens && (!best || std::abs(height_mm - now_mm) < std::abs(best->height_mm - now_mm)))
      best = {height_mm, from_s, to_s};
  }
  return best;
}

}  // namespace hairline
