// Reports built by hand: a gallery with a row of thin pickets, the harbour museum's lighthouse.
#pragma once
#include <limits>

#include "hairline/report.hpp"

namespace hairline::sample {

inline Detail picket(std::uint32_t id, double x_mm) {
  Detail detail;
  detail.id = id;
  detail.fate = Fate::vanish;
  detail.from_layer = 811;
  detail.to_layer = 974;
  detail.box = {{x_mm, 8.0, 40.5}, {x_mm + 0.1, 8.1, 48.7}};
  detail.volume_mm3 = 0.082;
  detail.width_mm = 0.1;
  detail.critical_exposure_s = 2.41;
  detail.log_sd = 0.05;
  detail.probability = 0.83;
  detail.lost_fraction = 1;
  return detail;
}

inline Detail porthole(std::uint32_t id) {
  Detail detail = picket(id, 20);
  detail.fate = Fate::fuse;
  detail.from_layer = detail.to_layer = 120;
  detail.box = {{20, 3, 5.95}, {20.15, 3.15, 6}};
  detail.volume_mm3 = 0.0045;
  detail.width_mm = 0.15;
  detail.critical_exposure_s = 2.9;
  detail.probability = 0.07;
  detail.lost_fraction = 0;
  detail.avoidable = false;
  return detail;
}

inline std::vector<SweepPoint> sweep() {
  std::vector<SweepPoint> points;
  for (int i = 0; i <= 28; ++i) {
    SweepPoint point;
    point.exposure_s = 1.8 + 0.05 * i;
    point.vanish = point.exposure_s < 2.41 ? 14 : 0;
    point.fuse = point.exposure_s > 2.9 ? 1 : 0;
    point.vanish_mm3 = 0.082 * point.vanish;
    point.fuse_mm3 = 0.0045 * point.fuse;
    point.expected_losses = point.vanish + point.fuse;
    points.push_back(point);
  }
  return points;
}

/// 14 alike pickets 1.2 mm apart, one porthole, two islands, three layers in the tables.
inline Report gallery() {
  Report report;
  report.job = {.file = "jobs/gallery.zip",
                .title = "Lighthouse gallery",
                .layers = 1842,
                .height_mm = 92.1,
                .duration_s = 28080,
                .resin_ml = 61.2,
                .resin_g = 67.32,
                .normal_s = 2.5,
                .size = {1440, 2560},
                .pitch = {0.05, 0.05},
                .layer_height_mm = 0.05,
                .resin_label = "harbour grey",
                .printer_label = "bench two",
                .assumed = {"lift height 6 mm"}};
  Report::Record record;
  record.file = "records/harbour-grey.json";
  record.resin = "harbour grey";
  record.printer = "bench two";
  record.age_days = 6;
  record.notes = {"The lamp has run 230 hours since the record was made."};
  record.model = {.bond_time_s = 1.6,
                  .fuse_time_s = 0.55,
                  .blur_mm = 0.038,
                  .penetration_depth_mm = 0.16,
                  .blur_shape = BlurShape::gaussian,
                  .layer_height_mm = 0.05,
                  .valid_from_s = 1.8,
                  .valid_to_s = 3.2,
                  .log_covariance = {}};
  report.record = record;
  report.exposure_s = 2.3;
  report.verdict = Verdict::hold;
  report.reasons = {"14 thin parts on layers 811 to 974 (40.50 to 48.70 mm up) are likely to vanish."};
  for (std::uint32_t i = 0; i < 14; ++i) report.details.push_back(picket(i + 1, 12 + 1.2 * i));
  report.details.push_back(porthole(15));
  report.details[0].carries_mm3 = 3.5;
  report.crumbs = {.vanish = 12, .fuse = 3, .vanish_mm3 = 0.002, .fuse_mm3 = 0.001};
  report.falls = {
      {.layer = 975, .box = {{12, 8, 48.7}, {28, 8.1, 49.2}}, .volume_mm3 = 3.5, .details = {1, 2, 3, 4, 5}}};
  report.islands = {{.layer = 301,
                     .last_layer = 376,
                     .area_mm2 = 1.9,
                     .volume_mm3 = 14.2,
                     .height_mm = 15,
                     .box = {{30, 30, 15}, {32, 31, 18.8}},
                     .joins_layer = 377},
                    {.layer = 1800,
                     .last_layer = 1842,
                     .area_mm2 = 4,
                     .volume_mm3 = 20,
                     .height_mm = 89.95,
                     .box = {{1, 1, 89.95}, {3, 3, 92.1}},
                     .joins_layer = {}}};
  report.speck_count = 1;
  report.base = {.contact_mm2 = 812,
                 .largest_layer_mm2 = 1204,
                 .largest_layer = 655,
                 .largest_box = {{1, 1, 32.7}, {40, 40, 32.75}},
                 .exposure_ratio = 12,
                 .base_layers = 5,
                 .base_s = 30,
                 .flare_mm = 0.1,
                 .fuse_mm3 = 0.2,
                 .vanish_mm3 = 0.0,
                 .findings = {{"The base gets little light for its size: expose it 35 s.", false}}};
  Suggestion suggestion;
  suggestion.exposure_s = 2.65;
  suggestion.window_s = {{2.46, 2.86}};
  suggestion.base_s = 26;
  suggestion.text = "At 2.65 s a layer nothing avoidable is at risk.";
  suggestion.changes = {{.fate = Fate::fuse,
                         .from_layer = 120,
                         .to_layer = 120,
                         .box = report.details.back().box,
                         .width_mm = 0.15,
                         .needed_mm = 0.2,
                         .needed_px = 1,
                         .flat = false,
                         .critical_exposure_s = 2.9}};
  suggestion.tonight = {"Set the normal exposure to 2.65 s."};
  suggestion.slicing = {"Put supports under the island that starts on layer 1800."};
  suggestion.modelling = {"Widen the porthole on layer 120 by one pixel."};
  suggestion.sweep = sweep();
  report.suggestion = suggestion;
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
    report.layers.push_back(row);
  }
  report.layers[1].thinnest_wall_mm = 0.1;
  report.layers[1].wall_at = {12.05, 8.05, 0.05};
  report.limits = {"one dose threshold", "no shrinkage"};
  return report;
}

/// The same job without a record.
inline Report measured_only() {
  Report report = gallery();
  report.record.reset();
  report.exposure_s = report.job.normal_s;
  report.details.clear();
  report.crumbs = {};
  report.falls.clear();
  report.base.flare_mm.reset();
  report.base.fuse_mm3.reset();
  report.base.vanish_mm3.reset();
  report.suggestion.reset();
  report.reasons = {"An island of 4 mm2 starts on layer 1800 (89.95 mm up)."};
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
