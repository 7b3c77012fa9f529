// A report block by block: the fields in its file (formats/preflight-report.md) in their order, one function for each
// struct, called by the writer and by the reader, so that the two cannot drift apart; and what a block has to say below
// all lists (`items_of`). Internal to src/report.
//
// `f("name", member)` is one field; numbers are 0 or more unless a range is given. `f.reads` tells the two apart where
// a field is no member of its own.
#pragma once
#include <algorithm>
#include <concepts>
#include <type_traits>
#include <utility>

#include "../base/numbers.hpp"
#include "wording.hpp"

namespace hairline {

// One function for a struct that is written from and the same struct that is read into.
template <class T, class Struct>
concept Like = std::same_as<std::remove_const_t<T>, Struct>;

// `f.reads` of a type: a reference is no constant for every compiler.
template <class F>
constexpr bool is_reader = std::remove_reference_t<F>::reads;

constexpr Range amount{0, 1e15}, positive{0, 1e15, true}, share{0, 1}, layer_number{1, 4294967295.0},
    shift{-1e15, 1e15};

void each_field(auto& f, Like<Report::Job> auto& job) {
  f("file", job.file);
  f("title", job.title);
  f("layers", job.layers);
  f("height_mm", job.height_mm);
  f("duration_s", job.duration_s);
  f("resin_ml", job.resin_ml);
  f("resin_g", job.resin_g);
  f("resin_cost", job.resin_cost);
  f("normal_s", job.normal_s, positive);
  f("layer_height_mm", job.layer_height_mm, positive);
  f("width_px", job.size.width_px);
  f("height_px", job.size.height_px);
  f("pitch_x_mm", job.pitch.x_mm, positive);
  f("pitch_y_mm", job.pitch.y_mm, positive);
  f("resin", job.resin_label);
  f("printer", job.printer_label);
  f("assumed", job.assumed);
}

void each_field(auto& f, Like<CureModel> auto& model) {
  f("bond_time_s", model.bond_time_s);
  f("fuse_time_s", model.fuse_time_s);
  f("blur_mm", model.blur_mm);
  f("penetration_depth_mm", model.penetration_depth_mm);
  f("flat_time_s", model.flat_time_s);
  f("blur_shape", model.blur_shape);
  f("layer_height_mm", model.layer_height_mm);
  f("valid_from_s", model.valid_from_s);
  f("valid_to_s", model.valid_to_s);
}

void each_field(auto& f, Like<BracketReading> auto& reading) {
  f("exposure_s", reading.exposure_s, positive);
  f("thinnest_wall_mm", reading.thinnest_wall_mm);
  f("narrowest_slot_mm", reading.narrowest_slot_mm);
  f("thinnest_pin_mm", reading.thinnest_pin_mm);
  f("smallest_hole_mm", reading.smallest_hole_mm);
}

void each_field(auto& f, Like<Report::Record> auto& record) {
  f("file", record.file);
  f("resin", record.resin);
  f("printer", record.printer);
  f("age_days", record.age_days);
  auto notes = record.doubts;  // come first among the notes
  notes.insert(notes.end(), record.notes.begin(), record.notes.end());
  f("notes", notes);
  f("doubts", record.doubts);
  if constexpr (is_reader<decltype(f)>) {
    if (notes.size() < record.doubts.size() || !std::equal(record.doubts.begin(), record.doubts.end(), notes.begin()))
      return f.wrong("doubts", "the first of the notes");
    record.notes.assign(notes.begin() + static_cast<std::ptrdiff_t>(record.doubts.size()), notes.end());
  }
  f("fit", record.model);
  f.later("readings", record.readings);
}

void each_field(auto& f, Like<Bulk> auto& bulk) {
  f("bond_time_s", bulk.bond_time_s, positive);
  f("margin", bulk.margin);
  f("chance", bulk.chance, share);
  f("layer", bulk.layer, layer_number);
}

void each_field(auto& f, Like<Detail> auto& detail) {
  f("id", detail.id, layer_number);
  f("fate", detail.fate);
  f("state", detail.state);
  f("lost", detail.lost);
  f("base", detail.base);
  f("from_layer", detail.from_layer, layer_number);
  f("to_layer", detail.to_layer, layer_number);
  f("box_mm", detail.box);
  f("volume_mm3", detail.volume_mm3);
  f.or_null("width_mm", detail.width_mm);
  f("flat", detail.flat);
  f("depth_mm", detail.depth_mm);
  f("share", detail.share, share);
  f("reach_mm", detail.reach_mm);
  f("welds", detail.welds);
  f.later("shuts", detail.shuts);
  f.later("breaks", detail.breaks);
  f("extent_mm", detail.extent_mm);
  f("critical_exposure_s", detail.critical_exposure_s);
  f.or_null("log_sd", detail.log_sd);
  f("probability", detail.probability, share);
  f("avoidable", detail.avoidable);
  f("carries_mm3", detail.carries_mm3);
  f("harm_mm", detail.harm_mm);
  if constexpr (is_reader<decltype(f)>)
    if (detail.base && detail.critical_exposure_s) f.wrong("critical_exposure_s", "null in base and transition layers");
}

void each_field(auto& f, Like<Fall> auto& fall) {
  f("layer", fall.layer, layer_number);
  f("loose", fall.loose);
  f("box_mm", fall.box);
  f("volume_mm3", fall.volume_mm3);
  f("details", fall.details);
}

void each_field(auto& f, Like<FaintPart> auto& faint) {
  f("from_layer", faint.from_layer, layer_number);
  f("to_layer", faint.to_layer, layer_number);
  f("box_mm", faint.box);
}

void each_field(auto& f, Like<Rounding> auto& rounding) {
  f("vanish", rounding.vanish);
  f("vanish_mm3", rounding.vanish_mm3);
  f("fuse", rounding.fuse);
  f("fuse_mm3", rounding.fuse_mm3);
  f("deepest_mm", rounding.deepest_mm);
  f("not_looked_at", rounding.not_looked_at);
}

void each_field(auto& f, Like<Crumbs::Place> auto& place) {
  f("fate", place.fate);
  f("from_layer", place.from_layer, layer_number);
  f("to_layer", place.to_layer, layer_number);
  f("box_mm", place.box);
}

void each_field(auto& f, Like<Crumbs> auto& crumbs) {
  f("vanish", crumbs.vanish);
  f("vanish_mm3", crumbs.vanish_mm3);
  f("fuse", crumbs.fuse);
  f("fuse_mm3", crumbs.fuse_mm3);
  f("deep_mm3", crumbs.deep_mm3);
  f.later("longest", crumbs.longest);
}

void each_field(auto& f, Like<IslandRow> auto& island) {
  f("layer", island.layer, layer_number);
  f("last_layer", island.last_layer, layer_number);
  f("height_mm", island.height_mm);
  f("area_mm2", island.area_mm2);
  f("box_mm", island.box);
  f("start_mm", island.start);
  f("volume_mm3", island.volume_mm3);
  f("joins_layer", island.joins_layer, layer_number);
  f("held_by_fill", island.held_by_fill);
}

void each_field(auto& f, Like<BaseReport> auto& base) {
  f("contact_mm2", base.contact_mm2);
  f("largest_layer_mm2", base.largest_layer_mm2);
  f("largest_layer", base.largest_layer);
  f("largest_box_mm", base.largest_box);
  f("base_layers", base.base_layers);
  f("base_s", base.base_s);
  f("exposure_ratio", base.exposure_ratio);
  f("flare_mm", base.flare_mm);
  f("fuse_mm3", base.fuse_mm3);
  f("vanish_mm3", base.vanish_mm3);
  f("stated", base.stated);
  bool comes_off = false;  // the file says it of all findings together
  std::vector<std::string> texts;
  for (const BaseReport::Finding& finding : base.findings) {
    comes_off = comes_off || finding.comes_off;
    texts.push_back(finding.text);
  }
  f("comes_off", comes_off);
  f("findings", texts);
  if constexpr (is_reader<decltype(f)>) {
    if (comes_off && texts.empty()) f.wrong("comes_off", "false where nothing is found");
    for (const std::string& text : texts) base.findings.push_back({text, comes_off});
  }
}

void each_field(auto& f, Like<WidthGrowth> auto& width) {
  f("drawn_mm", width.drawn_mm, positive);
  f("wall_mm", width.wall_mm);
  f("slot_mm", width.slot_mm);
  f("pin_mm", width.pin_mm);
  f("hole_mm", width.hole_mm);
  f("wall_mm2", width.wall_mm2);
  f("slot_mm2", width.slot_mm2);
}

void each_field(auto& f, Like<Growth> auto& growth) {
  f("normal_mm", growth.normal_mm, shift);
  f("base_mm", growth.base_mm, shift);
  auto outline_mm = growth.normal_mm;  // what undoes it
  if (outline_mm) outline_mm = 0 - *outline_mm;
  f("outline_mm", outline_mm, shift);
  f("widths", growth.widths);
  f("findings", growth.findings);
}

void each_field(auto& f, Like<Change> auto& change) {
  f("fate", change.fate);
  f("from_layer", change.from_layer, layer_number);
  f("to_layer", change.to_layer, layer_number);
  f("box_mm", change.box);
  f.or_null("width_mm", change.width_mm);
  f.or_null("needed_mm", change.needed_mm);
  f.or_null("needed_px", change.needed_px);
  f("flat", change.flat);
  f.or_null("critical_exposure_s", change.critical_exposure_s);
}

void each_field(auto& f, Like<SweepPoint> auto& point) {
  f("exposure_s", point.exposure_s, positive);
  f("vanish", point.vanish);
  f("fuse", point.fuse);
  f("vanish_mm3", point.vanish_mm3);
  f("fuse_mm3", point.fuse_mm3);
  f("expected_losses", point.expected_losses);
  f("expected_mm", point.expected_mm);
  f("expected_fuse_mm", point.expected_fuse_mm);
  f("bulk_chance", point.bulk_chance, share);
  f.later("uncured_share", point.uncured_share);
  f.later("half_lost", point.half_lost);
}

void each_field(auto& f, Like<CouponAdvice> auto& coupons) {
  f("exposures_s", coupons.exposures_s);
  f("saves", coupons.saves);
}

void each_field(auto& f, Like<OwnTime> auto& own) {
  f("from_layer", own.from_layer, layer_number);
  f("to_layer", own.to_layer, layer_number);
  f("exposure_s", own.exposure_s, positive);
}

void each_field(auto& f, Like<Suggestion> auto& suggestion) {
  f("action", suggestion.action);
  f("exposure_s", suggestion.exposure_s, positive);
  f("window_s", suggestion.window_s);
  f("conflict", suggestion.conflict);
  f("base_s", suggestion.base_s);
  f("text", suggestion.text);
  f("changes", suggestion.changes);
  f("layer_height_mm", suggestion.layer_height_mm);
  f("coupons", suggestion.coupons);
  f.later("exception", suggestion.exception);
  f.later("covered_s", suggestion.covered_s);
  f.later("then_hangs_mm3", suggestion.then_hangs_mm3);
  f("tonight", suggestion.tonight);
  f("slicing", suggestion.slicing);
  f("modelling", suggestion.modelling);
  f("now", suggestion.now);
  f("then", suggestion.then);
  f("coarse_sweep", suggestion.coarse_sweep);
  f("sweep", suggestion.sweep);
}

// One list for each member, an entry for each layer.
void each_field(auto& f, Like<std::vector<LayerRow>> auto& rows) {
  f.column("thinnest_wall_mm", rows, &LayerRow::thinnest_wall_mm);
  f.column("thinnest_gap_mm", rows, &LayerRow::thinnest_gap_mm);
  f.column("solid_mm2", rows, &LayerRow::solid_mm2);
  f.column("contact_mm2", rows, &LayerRow::contact_mm2);
  f.column("islands", rows, &LayerRow::islands);
  f.column("specks", rows, &LayerRow::specks);
  f.column("pieces", rows, &LayerRow::pieces);
  f.column("height_mm", rows, &LayerRow::height_mm);
  f.column("exposure_s", rows, &LayerRow::exposure_s);
  f.later_column("kind", rows, &LayerRow::kind);
  f.later_column("wall_at_mm", rows, &LayerRow::wall_at, &LayerRow::thinnest_wall_mm);
  f.later_column("gap_at_mm", rows, &LayerRow::gap_at, &LayerRow::thinnest_gap_mm);
}

void each_field(auto& f, Like<Report> auto& report) {
  f("job", report.job);
  f("record", report.record);
  f("exposure_s", report.exposure_s, positive);
  f("verdict", report.verdict);
  f("reasons", report.reasons);
  f("whole_fails", report.whole_fails);
  f.with("bulk", report.bulk, "lost_mm3", report.bulk_lost_mm3);
  f("base_bulk", report.base_bulk);
  f("details", report.details);
  f("falls", report.falls);
  f("rounding", report.rounding);
  f("crumbs", report.crumbs);
  f("islands", report.islands);
  auto island_count = static_cast<std::uint32_t>(report.islands.size());
  f("island_count", island_count);
  f("speck_count", report.speck_count);
  f.later("faint", report.faint);
  f("base", report.base);
  f("growth", report.growth);
  f("suggestion", report.suggestion);
  f("limits", report.limits);
  f("layers", report.layers);
}

// What is worth knowing, an item or more for each block; those without a text are not shown.
inline std::vector<Item> items_of(const Report& report, bool doubts_told) {
  std::vector<Item> items = {{"rounding", report.record ? rounding_text(report) : ""},
                             {"crumbs", crumbs_text(report)},
                             {"falls", small_falls_text(report)},
                             {"islands", held_islands_text(report)},
                             {"bond", bond_text(report)},
                             {"plate", base_text(report.base)}};
  for (const BaseReport::Finding& finding : report.base.findings)
    if (std::find(report.reasons.begin(), report.reasons.end(), finding.text) == report.reasons.end())
      items.push_back({"", finding.text});
  if (report.growth && !report.whole_fails) {
    items.push_back({"growth", growth_text(report)});
    for (const std::string& finding : report.growth->findings) items.push_back({"", finding});
  }
  const char* lead = "thinnest";
  for (const std::string& text : thinnest_texts(report.layers)) items.push_back({std::exchange(lead, ""), text});
  if (report.record) {
    items.push_back({"record", record_text(*report.record)});
    if (!doubts_told) items.push_back({"", joined(report.record->doubts, " ")});
    items.push_back({"", joined(report.record->notes, " ")});
  }
  if (!report.job.remarks.empty()) items.push_back({"archive", joined(report.job.remarks, " ")});
  if (!report.job.assumed.empty()) items.push_back({"assumed", joined(report.job.assumed, ", ") + "."});
  for (Item& item : items) item.most_lines = 3;
  return items;
}

}  // namespace hairline
