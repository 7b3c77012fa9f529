// Reports built by hand, of the harbour museum's workshop: a gallery with a row of thin pickets, a cottage with nothing
// wrong, and what else a report may have to say.
#pragma once
#include <limits>

#include "hairline/report.hpp"

namespace hairline::sample {

inline Detail picket(std::uint32_t id, double x_mm) {
  Detail detail;
  detail.id = id;
  detail.fate = Fate::vanish;
  detail.state = State::will;
  detail.lost = true;
  detail.from_layer = 811;
  detail.to_layer = 974;
  detail.box = {{x_mm, 8.0, 40.5}, {x_mm + 0.1, 8.1, 48.7}};
  detail.volume_mm3 = 0.082;
  detail.width_mm = 0.1;
  detail.depth_mm = 8.2;
  detail.share = 1;
  detail.reach_mm = 8.2;
  detail.extent_mm = 8.2;
  detail.critical_exposure_s = 2.41;
  detail.log_sd = 0.05;
  detail.probability = 0.83;
  detail.harm_mm = 8.2;
  return detail;
}

inline Detail porthole(std::uint32_t id) {
  Detail detail = picket(id, 20);
  detail.fate = Fate::fuse;
  detail.from_layer = 117;
  detail.to_layer = 120;
  detail.box = {{20, 3, 5.8}, {20.15, 4.5, 6}};
  detail.volume_mm3 = 0.045;
  detail.width_mm = 0.15;
  detail.depth_mm = 1.5;
  detail.reach_mm = 0.75;
  detail.extent_mm = 1.52;
  detail.critical_exposure_s = 1.7;
  detail.probability = 0.995;
  detail.avoidable = false;
  detail.harm_mm = 1.52;
  return detail;
}

/// The bottom of a crease that fills: listed, but not lost.
inline Detail crease(std::uint32_t id) {
  Detail detail = porthole(id);
  detail.lost = false;
  detail.avoidable = true;
  detail.box = {{5, 12, 2}, {9, 12.05, 2.05}};
  detail.from_layer = detail.to_layer = 41;
  detail.volume_mm3 = 0.01;
  detail.width_mm = 0.05;
  detail.depth_mm = 0.05;
  detail.share.reset();
  detail.reach_mm.reset();
  detail.extent_mm = 4;
  detail.critical_exposure_s = 1.9;
  detail.harm_mm = 4;
  return detail;
}

inline SweepPoint row(double exposure_s, std::uint32_t vanish, std::uint32_t fuse) {
  SweepPoint point;
  point.exposure_s = exposure_s;
  point.vanish = vanish;
  point.fuse = fuse;
  point.vanish_mm3 = 0.082 * vanish;
  point.fuse_mm3 = 0.045 * fuse;
  point.expected_losses = vanish + fuse;
  point.expected_mm = 8.2 * vanish + 1.52 * fuse;
  point.expected_fuse_mm = 1.52 * fuse;
  point.bulk_chance = exposure_s < 1.85 ? 0.02 : 0.0;
  return point;
}

inline std::vector<SweepPoint> sweep() {
  std::vector<SweepPoint> rows;
  for (const double exposure_s : {1.8, 1.9, 2.0, 2.1, 2.2, 2.3, 2.4, 2.5, 2.65, 2.8, 2.9, 3.05, 3.2})
    rows.push_back(row(exposure_s, exposure_s < 2.41 ? 14 : 0, 1));
  return rows;
}

inline Report::Record record() {
  Report::Record record;
  record.file = "records/harbour-grey.json";
  record.resin = "harbour grey";
  record.printer = "bench two";
  record.age_days = 6;
  record.model = {.bond_time_s = 1.6,
                  .fuse_time_s = 0.55,
                  .blur_mm = 0.038,
                  .penetration_depth_mm = 0.16,
                  .blur_shape = BlurShape::gaussian,
                  .layer_height_mm = 0.05,
                  .valid_from_s = 1.8,
                  .valid_to_s = 3.2,
                  .log_covariance = {}};
  return record;
}

inline std::vector<LayerRow> layers() {
  std::vector<LayerRow> rows;
  LayerRow row;
  for (std::uint32_t n = 1; n <= 3; ++n) {
    row.layer = n;
    row.height_mm = 0.05;
    row.bottom_mm = 0.05 * (n - 1);
    row.exposure_s = n == 1 ? 30 : 2.3;
    row.kind = n == 1 ? LayerKind::base : LayerKind::normal;
    row.solid_mm2 = 812.0 / n;
    row.contact_mm2 = 812.0 / n;
    row.pieces = n;
    rows.push_back(row);
  }
  rows[1].thinnest_wall_mm = 0.1;
  rows[1].wall_at = {12.05, 8.05, 0.05};
  return rows;
}

inline std::vector<std::string> limits() {
  return {"one dose threshold, no oxygen or diffusion chemistry",
          "resin in gaps is taken to stay put between exposures (an upper bound for small gaps)", "no shrinkage",
          "no support mechanics beyond what is measured"};
}

/// 14 alike pickets 1.2 mm apart, a porthole no time keeps open, two islands, three layers in the tables.
inline Report gallery() {
  Report report;
  report.job = {.file = "jobs/gallery.zip",
                .title = "Lighthouse gallery",
                .layers = 1842,
                .height_mm = 92.1,
                .duration_s = 28080,
                .resin_ml = 61.2,
                .resin_g = 67.32,
                .resin_cost = 2.448,  // at 40 a litre
                .normal_s = 2.5,
                .size = {1440, 2560},
                .pitch = {0.05, 0.05},
                .layer_height_mm = 0.05,
                .resin_label = "harbour grey",
                .printer_label = "bench two",
                .assumed = {"lift height 6 mm"}};
  report.record = record();
  report.record->doubts = {"The lamp has run 230 hours since the record was made; it may have grown weaker."};
  report.record->notes = {"The job's printer is \"bench two\", the record's \"bench one\"."};
  report.exposure_s = 2.3;
  report.verdict = Verdict::hold;
  report.reasons = {
      "A body of 3.5 mm3 comes loose on layer 975 (48.7 mm up), at x 20.0, y 8.1 mm: what holds it will be missing "
      "(#1, "
      "#2, #3 and 2 more).",
      "A part 0.10 mm thin will be missing on layers 811 to 974 (40.5 to 48.7 mm up), at x 12.1, y 8.1 mm (#1), and "
      "3.5 mm3 hang on it. So will 13 other parts.",
      "A gap 0.15 mm wide will close on layers 117 to 120 (5.8 to 6.0 mm up), at x 20.1, y 3.8 mm (#15).",
      "An island of 4.00 mm2 starts in mid-resin on layer 1800 (90.0 mm up), at x 2.0, y 2.0 mm, and hangs on nothing "
      "to its very end.",
      report.record->doubts[0]};
  report.bulk = Bulk{.bond_time_s = 1.6, .margin = 1.4375, .chance = 0, .layer = 812};
  report.base_bulk = Bulk{.bond_time_s = 1.6, .margin = 18.75, .chance = 0, .layer = 1};
  for (std::uint32_t i = 0; i < 14; ++i) report.details.push_back(picket(i + 1, 12 + 1.2 * i));
  report.details[0].carries_mm3 = 3.5;
  report.details[0].harm_mm = 24.2;
  report.details.push_back(porthole(15));
  report.details.push_back(crease(16));
  report.rounding = {.vanish = 12, .fuse = 125, .vanish_mm3 = 0.05, .fuse_mm3 = 2.9, .deepest_mm = 0.05};
  report.crumbs.vanish = 12, report.crumbs.fuse = 3;
  report.crumbs.vanish_mm3 = 0.002, report.crumbs.fuse_mm3 = 0.001;
  report.falls = {
      {.layer = 975, .box = {{12, 8, 48.7}, {28, 8.1, 49.2}}, .volume_mm3 = 3.5, .details = {1, 2, 3, 4, 5}}};
  report.islands = {{.layer = 301,
                     .last_layer = 376,
                     .area_mm2 = 1.9,
                     .volume_mm3 = 14.2,
                     .height_mm = 15,
                     .box = {{30, 30, 15}, {32, 31, 18.8}},
                     .start = PlaceMm{30.5, 30.5, 15},
                     .joins_layer = 377},
                    {.layer = 1800,
                     .last_layer = 1842,
                     .area_mm2 = 4,
                     .volume_mm3 = 20,
                     .height_mm = 89.95,
                     .box = {{1, 1, 89.95}, {3, 3, 92.1}},
                     .start = {},
                     .joins_layer = {}}};
  report.speck_count = 1;
  report.base = {.contact_mm2 = 812,
                 .largest_layer_mm2 = 1204,
                 .largest_layer = 655,
                 .largest_box = {{1, 1, 32.7}, {40, 40, 32.75}},
                 .exposure_ratio = 13,
                 .base_layers = 5,
                 .base_s = 30,
                 .flare_mm = 0.1,
                 .fuse_mm3 = 0.2,
                 .vanish_mm3 = 0.0,
                 .findings = {}};
  report.growth = {.normal_mm = 0.027,
                   .base_mm = 0.079,
                   .widths = {{0.1, 0.128, 0.037, 0.103, std::nullopt, 12, 0},
                              {0.15, 0.2, 0.096, 0.18, 0.074, 3.5, 8.2},
                              {0.2, 0.253, 0.147, 0.242, 0.139, 0, 2}},
                   .findings = {"Round holes drawn 0.15 mm wide stay open but print 0.07 mm: over a third narrower. "
                                "8.2 mm2 of gap sides are so; draw them wider."}};
  Suggestion suggestion;
  suggestion.action = Action::change;
  suggestion.exposure_s = 2.65;
  suggestion.window_s = {{2.5, 2.9}};
  suggestion.text = "Set 2.65 s: 1 gap is lost then instead of 14 parts and 1 gap.";
  suggestion.changes = {{.fate = Fate::fuse,
                         .from_layer = 117,
                         .to_layer = 120,
                         .box = report.details[14].box,
                         .width_mm = 0.15,
                         .needed_mm = 0.192,
                         .needed_px = 0.84,
                         .flat = false,
                         .critical_exposure_s = 1.7}};
  suggestion.tonight = {"Set the exposure to 2.65 s."};
  suggestion.slicing = {"Put supports under the island on layer 1800 (90.0 mm up), at x 2.0, y 2.0 mm."};
  suggestion.modelling = {"Widen #15: 0.20 mm instead of 0.15 mm."};
  suggestion.sweep = sweep();
  suggestion.now = suggestion.sweep[5];
  suggestion.then = suggestion.sweep[8];
  report.suggestion = suggestion;
  report.layers = layers();
  report.limits = limits();
  return report;
}

/// Nothing lost at a time that may stay.
inline Report cottage() {
  Report report = gallery();
  report.job.file = "jobs/cottage.zip";
  report.job.title = "Keeper's cottage";
  report.job.layers = 612;
  report.job.height_mm = 30.6;
  report.job.duration_s = 10920;
  report.job.resin_ml = 18.2;
  report.job.resin_g = 20.02;
  report.job.resin_cost.reset();
  report.job.assumed.clear();
  report.record->doubts.clear();
  report.record->notes.clear();
  report.exposure_s = 2.5;
  report.verdict = Verdict::clear;
  report.reasons.clear();
  report.bulk->margin = 1.5625;
  report.details = {crease(1)};
  report.falls.clear();
  report.islands.clear();
  report.base.exposure_ratio = 12;
  report.growth->findings.clear();
  Suggestion suggestion;
  suggestion.action = Action::keep;
  suggestion.exposure_s = 2.5;
  suggestion.window_s = {{1.9, 3.05}};
  suggestion.text = "Keep 2.50 s: nothing is lost.";
  for (const SweepPoint& point : sweep()) {
    suggestion.sweep.push_back(row(point.exposure_s, 0, point.exposure_s > 3.1 ? 1 : 0));
    suggestion.sweep.back().expected_mm = point.exposure_s > 3.1 ? 0.9 : 0;
  }
  suggestion.now = suggestion.then = suggestion.sweep[7];
  report.suggestion = suggestion;
  return report;
}

/// A mast that may lose its tip, and an island held by what fills under it.
inline Report cutter() {
  Report report = cottage();
  report.job.file = "jobs/cutter.zip";
  report.job.title = "Pilot cutter";
  report.verdict = Verdict::caution;
  Detail tip = picket(1, 31.4);
  tip.state = State::may;
  tip.share = 0.62;
  tip.probability = 0.12;
  tip.critical_exposure_s = 2.34;
  tip.from_layer = 540;
  tip.to_layer = 612;
  tip.box = {{31.4, 14.2, 26.95}, {31.5, 14.3, 30.6}};
  tip.extent_mm = tip.harm_mm = 3.65;
  report.details = {tip, crease(2)};
  report.reasons = {
      "A part 0.10 mm thin may be missing (chance 12 %) on layers 540 to 612 (26.9 to 30.6 mm up), at x 31.4, y 14.2 "
      "mm (#1)."};
  IslandRow held = gallery().islands[0];
  held.held_by_fill = true;
  report.islands = {held};
  report.suggestion->window_s = {};
  for (SweepPoint& point : report.suggestion->sweep) {
    point.vanish = point.exposure_s < 2.34 ? 1 : 0;
    point.expected_mm = point.exposure_s < 2.34 ? 3.1 : point.exposure_s < 2.6 ? 0.44 : 0;
  }
  report.suggestion->now = report.suggestion->then = report.suggestion->sweep[7];
  return report;
}

/// The gallery without a record.
inline Report measured_only() {
  Report report = gallery();
  report.record.reset();
  report.job.resin_cost.reset();
  report.exposure_s = report.job.normal_s;
  report.bulk.reset();
  report.base_bulk.reset();
  report.details.clear();
  report.rounding = {};
  report.crumbs = {};
  report.falls.clear();
  report.base.exposure_ratio = 12;
  report.base.flare_mm.reset();
  report.base.fuse_mm3.reset();
  report.base.vanish_mm3.reset();
  for (WidthGrowth& width : report.growth->widths)
    width.wall_mm = width.slot_mm = width.pin_mm = width.hole_mm = std::nullopt;
  report.growth->normal_mm = report.growth->base_mm = std::nullopt;
  report.growth->findings.clear();
  report.suggestion.reset();
  report.reasons = {report.reasons[3]};
  return report;
}

/// Layers of 0.12 mm at a time made for 0.05 mm: nothing bonds, within the record's range or at its ends.
inline Report under_bond() {
  Report report = gallery();
  report.exposure_s = report.job.normal_s = 2.0;
  report.job.layer_height_mm = 0.12;
  report.record->doubts.clear();
  report.whole_fails = true;
  report.bulk = Bulk{.bond_time_s = 2.48, .margin = 0.81, .chance = 0.98, .layer = 7};
  report.bulk_lost_mm3 = 57200;
  report.details.clear();
  report.rounding = {};
  report.crumbs = {};
  report.falls.clear();
  report.islands.clear();
  report.speck_count = 0;
  report.reasons = {
      "The print as a whole fails: layer 7 (0.7 mm up) gets 2.00 s and needs 2.48 s at least to cure through. Layers "
      "of 0.12 mm are too thick for this time."};
  Suggestion suggestion;
  suggestion.action = Action::record;
  suggestion.exposure_s = 2.0;
  suggestion.text =
      "No time of the record is sure to print this: its solid parts bond from about 3.3 s on. Print coupons at 3.40 s "
      "and 3.70 s first.";
  suggestion.coupons = CouponAdvice{.exposures_s = {3.4, 3.7}, .saves = 0};
  suggestion.tonight = {"Print coupons at 3.40 s and 3.70 s."};
  for (const SweepPoint& point : sweep()) {
    suggestion.sweep.push_back(row(point.exposure_s, 0, 0));
    suggestion.sweep.back().bulk_chance = point.exposure_s < 2.5 ? 1 : 0.1;
  }
  suggestion.now = suggestion.then = suggestion.sweep[2];
  report.suggestion = suggestion;
  return report;
}

/// Light everywhere, but no pixel of value 128 or more above the base.
inline Report nothing_solid() {
  Report report = under_bond();
  report.whole_fails = false;
  report.bulk.reset();
  report.bulk_lost_mm3 = 0;
  for (LayerRow& layer : report.layers)
    if (layer.kind == LayerKind::normal) layer.solid_mm2 = layer.contact_mm2 = 0;
  report.reasons = {
      "Nothing is solid in the normal layers: the masks are grey (110 of 255 at most). Export them with all solid in "
      "white."};
  return report;
}

/// 100 losses of which no two are alike, 300 falls, 400 islands; with `absurd` more reasons, doubts and levers than
/// fit.
inline Report busy(bool absurd = false) {
  Report report = gallery();
  report.growth.reset();  // an older file
  report.details.clear();
  report.reasons.erase(report.reasons.begin(), report.reasons.begin() + 3);
  for (std::uint32_t i = 0; i < 100; ++i) {
    Detail detail = i % 3 == 2 ? porthole(i + 1) : picket(i + 1, 0.7 * i);
    if (i >= 60) detail.state = State::may, detail.probability = 0.3;
    detail.from_layer -= i;
    report.details.push_back(detail);
  }
  report.falls.clear();
  for (std::uint32_t i = 0; i < 300; ++i)
    report.falls.push_back({.layer = 975 + i,
                            .loose = i % 5 != 0,
                            .box = {{12, 8, 48.7 + 0.05 * i}, {28, 8.1, 50 + 0.05 * i}},
                            .volume_mm3 = 0.3,
                            .details = i < 250 ? std::vector<std::uint32_t>{i / 3 + 1} : std::vector<std::uint32_t>{}});
  report.islands.clear();
  for (std::uint32_t i = 0; i < 400; ++i) {
    IslandRow island = gallery().islands[i % 2];
    island.layer += i;
    island.held_by_fill = i % 7 == 0;
    report.islands.push_back(island);
  }
  for (int i = 0; i < (absurd ? 12 : 1); ++i)
    report.reasons.push_back("The base exposure of " + std::to_string(30 + i) +
                             " s is only 3.0 times the normal one: the print may come off the plate; raise it.");
  for (int i = 0; i < (absurd ? 6 : 0); ++i)
    report.record->doubts.push_back("The record is " + std::to_string(40 + i) +
                                    " days old; resin and lamp change, so print a new coupon after 30 days.");
  Change change = report.suggestion->changes[0];
  report.suggestion->changes.clear();
  for (std::uint32_t i = 0; i < 40; ++i) {
    change.from_layer = 20 + i;
    report.suggestion->changes.push_back(change);
    if (absurd || i < 3)
      report.suggestion->slicing.push_back("Put supports under the island on layer " + std::to_string(i) + ".");
  }
  for (SweepPoint& point : report.suggestion->sweep) point.expected_mm += 3 * point.exposure_s;
  report.suggestion->coupons = CouponAdvice{.exposures_s = {3.4, 3.7}, .saves = 3};
  report.suggestion->coarse_sweep = absurd;
  report.layers[2].thinnest_gap_mm = 0.1;
  return report;
}

/// What a careless producer of the value might hand over, and foreign text that means harm.
inline Report hostile() {
  Report report = gallery();
  report.job.title = "gallery\x1b[31m\xff\nclear";
  report.record->resin = "grey\x07";
  report.record->notes = {std::string("bad \xc3( bytes")};
  report.details[0].critical_exposure_s = std::numeric_limits<double>::infinity();
  report.details[0].width_mm = std::numeric_limits<double>::quiet_NaN();
  return report;
}

}  // namespace hairline::sample
