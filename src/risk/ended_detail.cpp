#include "ended_detail.hpp"

#include <cmath>

namespace hairline::risk {

BoxMm box_mm(const RiskContext& context, const BoxPx& box, std::uint32_t from_layer, std::uint32_t to_layer) {
  const LayerPlan &low = context.layers[from_layer - 1], &high = context.layers[to_layer - 1];
  return {{box.x0 * context.pitch.x_mm, box.y0 * context.pitch.y_mm, low.bottom_mm},
          {box.x1 * context.pitch.x_mm, box.y1 * context.pitch.y_mm, high.bottom_mm + high.height_mm}};
}

EndedDetail ended(const RiskContext& context, const Certainty& certainty, Fate fate, const DetailSum& sum) {
  const MedianCritical middle = sum.bins.median();
  EndedDetail one;
  one.fate = fate;
  one.flat = sum.flat;
  one.lost_fraction = static_cast<double>(sum.flipped) / static_cast<double>(sum.voxels);
  one.from_layer = sum.from_layer;
  one.to_layer = sum.to_layer;
  one.box = sum.box;
  one.volume_mm3 = sum.volume_mm3;
  one.critical_exposure_s = middle.critical_s;
  one.log_sd = certainty.log_sd(fate, middle.blur_slope, middle.depth_slope);
  if (std::isfinite(sum.width_mm)) {
    one.width_mm = static_cast<double>(sum.width_mm);
  } else {  // no medial line inside it: the width that a straight wall or gap of equal light would have
    one.width_mm = fate == Fate::vanish ? wall_limit_mm(context.model, middle.critical_s)
                                        : slot_limit_mm(context.model, middle.critical_s);
  }
  return one;
}

Detail detail_of(const RiskContext& context, const EndedDetail& one) {
  Detail detail;
  detail.id = one.id;
  detail.fate = one.fate;
  detail.from_layer = one.from_layer;
  detail.to_layer = one.to_layer;
  detail.box = box_mm(context, one.box, one.from_layer, one.to_layer);
  detail.volume_mm3 = one.volume_mm3;
  detail.width_mm = one.width_mm;
  detail.flat = one.flat;
  detail.critical_exposure_s = one.critical_exposure_s;
  detail.log_sd = one.log_sd;
  detail.probability = chance(one.fate, one.critical_exposure_s, context.exposure_s, one.log_sd);
  detail.lost_fraction = one.lost_fraction;
  detail.avoidable = one.fate == Fate::vanish ? one.critical_exposure_s <= context.model.valid_to_s
                                              : one.critical_exposure_s > context.model.valid_from_s;
  if (one.hold) detail.carries_mm3 = one.hold->carries_mm3;
  return detail;
}

Contender contender_of(const RiskContext& context, const EndedDetail& one) {
  return {one.fate,
          one.from_layer,
          one.to_layer,
          box_mm(context, one.box, one.from_layer, one.to_layer),
          one.volume_mm3,
          one.width_mm,
          one.critical_exposure_s,
          one.log_sd,
          one.flat};
}

}  // namespace hairline::risk
