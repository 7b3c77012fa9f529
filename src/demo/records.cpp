/// The workshop's two resin records. Their readings are what the closed forms of the model give, read to 0.01 mm as
/// with a loupe; the values of the resin itself are invented, of the size that is usual for a grey standard resin. The
/// newer record holds all that a coupon shows, so that a fit of it anew is as sure as the one it states.
#include <cmath>

#include "hairline/demo.hpp"
#include "hairline/fit.hpp"
#include "hairline/growth.hpp"
#include "hairline/model.hpp"

namespace hairline {
namespace {

constexpr double layer_height_mm = 0.05;

/// The narrowest one that stays open of a stair of flat slots, a layer higher each.
double on_a_stair(double limit_mm) {
  return std::ceil(limit_mm / layer_height_mm) * layer_height_mm;
}

/// To full hundredths, so that the file shows 0.07 and not 0.07000000000000001.
double hundredths(double value_mm) {
  return std::round(value_mm * 100) / 100;
}

struct Coupon {
  double exposure_s;
  Look look;
};

BracketReading reading_of(const CureModel& model, const Coupon& coupon) {
  BracketReading r;
  r.exposure_s = coupon.exposure_s;
  r.thinnest_wall_mm = hundredths(wall_limit_mm(model, coupon.exposure_s));
  r.narrowest_slot_mm = hundredths(slot_limit_mm(model, coupon.exposure_s));
  r.narrowest_flat_slot_mm = hundredths(on_a_stair(flat_slot_limit_mm(model, coupon.exposure_s)));
  r.look = coupon.look;
  r.reading_error_mm = 0.01;
  return r;
}

/// Pins, holes, and by caliper the coupon's block and slot.
void read_the_rest(const CureModel& model, BracketReading& r) {
  const double wider_mm = 2 * *growth_mm(model, layer_height_mm, r.exposure_s);
  r.thinnest_pin_mm = hundredths(pin_limit_mm(model, r.exposure_s));
  r.smallest_hole_mm = hundredths(hole_limit_mm(model, r.exposure_s));
  r.block_mm = {coupon_block_mm, hundredths(coupon_block_mm + wider_mm)};
  r.slot_mm = {coupon_slot_mm, hundredths(coupon_slot_mm - wider_mm)};
  r.reading_error_mm = 0.005;
}

/// A wide area of one layer just cures at the bond time, so the curve passes the layer height there.
CureDepthReading depth_of(const CureModel& model, double exposure_s) {
  const double gel_s = model.bond_time_s * std::exp(-layer_height_mm / model.penetration_depth_mm);
  CureDepthReading reading;
  reading.exposure_s = exposure_s;
  reading.depth_mm = std::round(model.penetration_depth_mm * std::log(exposure_s / gel_s) * 1000) / 1000;
  return reading;
}

ResinRecord record_of(const CureModel& model, const std::vector<Coupon>& coupons, const std::vector<double>& depths_s) {
  ResinRecord record;
  record.resin.label = "harbour grey";
  record.resin.colour = "grey";
  record.resin.kind = "standard";
  record.resin.density_g_per_ml = 1.1;
  record.printer.label = "quay bench";
  record.printer.pitch_mm = 0.05;
  record.printer.lamp_power_percent = 100;
  record.layer_height_mm = layer_height_mm;
  for (const Coupon& c : coupons) record.bracket.push_back(reading_of(model, c));
  for (const double t : depths_s) record.cure_depth.push_back(depth_of(model, t));
  record.fit = model;
  record.use = time_to_use(record);
  return record;
}

BaseReading held_base(double base_s) {
  BaseReading reading;
  reading.base_s = base_s, reading.layers = 5, reading.result = BaseResult::held;
  return reading;
}

/// Relative spread of each value (bond time, fuse time, blur, penetration depth) and how they go together: a larger
/// blur is made up for by a shorter bond time and a longer fuse time.
LogCovariance covariance_of(double bond, double fuse, double blur, double depth) {
  LogCovariance c{};
  c[0][0] = bond * bond, c[1][1] = fuse * fuse, c[2][2] = blur * blur, c[3][3] = depth * depth;
  c[0][2] = c[2][0] = -0.4 * bond * blur;
  c[1][2] = c[2][1] = 0.4 * fuse * blur;
  c[1][3] = c[3][1] = 0.2 * fuse * depth;
  for (std::size_t i = 2; i < 4; ++i) c[4][i] = c[i][4] = c[1][i];  // flat gaps: as sure, but not of one piece
  c[4][4] = c[1][1], c[1][4] = c[4][1] = 0.5 * c[1][1];
  return c;
}

}  // namespace

ResinRecord harbour_grey_record() {
  CureModel model;
  model.bond_time_s = 1.6, model.fuse_time_s = 0.55, model.blur_mm = 0.038, model.penetration_depth_mm = 0.16;
  model.flat_time_s = model.fuse_time_s;
  model.layer_height_mm = layer_height_mm;
  model.valid_from_s = 1.8, model.valid_to_s = 3.2;
  model.log_covariance = covariance_of(0.02, 0.04, 0.04, 0.03);
  ResinRecord record = record_of(
      model,
      {{1.9, Look::under}, {2.15, Look::crisp}, {2.4, Look::slightly_over}, {2.7, Look::over}, {3.1, Look::over}},
      {2.5, 5.0, 10.0});
  for (BracketReading& reading : record.bracket) read_the_rest(model, reading);
  record.resin.batch = "HG-26-09";
  record.resin.opened = "2026-09-02";
  record.printer.lamp_hours = 410;
  record.conditions = {"2026-11-01", 23, 45};
  record.base = {held_base(30)};
  record.fitted_at = "2026-11-01";
  record.method = "stated for the demo; the readings follow from it by the closed forms";
  return record;
}

ResinRecord old_lamp_record() {
  constexpr double slower = 1.35;  // a weaker lamp makes every time longer by the same factor
  CureModel model;
  model.bond_time_s = 1.6 * slower, model.fuse_time_s = 0.55 * slower, model.blur_mm = 0.05;
  model.penetration_depth_mm = 0.16;
  model.flat_time_s = model.fuse_time_s;
  model.layer_height_mm = layer_height_mm;
  model.valid_from_s = 2.4, model.valid_to_s = 4.3;
  model.log_covariance = covariance_of(0.04, 0.07, 0.08, 0.05);
  ResinRecord record = record_of(
      model, {{2.6, Look::under}, {2.9, Look::crisp}, {3.4, Look::slightly_over}, {4.2, Look::over}}, {3.4, 6.8});
  record.resin.batch = "HG-26-03";
  record.resin.opened = "2026-03-20";
  record.printer.lamp_hours = 2100;
  record.conditions = {"2026-06-10", 20, 60};
  record.base = {held_base(40)};
  record.fitted_at = "2026-06-10";
  record.method = "stated for the demo; the readings follow from it by the closed forms";
  return record;
}

}  // namespace hairline
