// The fields of a checked queue in its file (formats/queue-report.md), in their order, as report_blocks.hpp has those
// of a report. Internal to src/report.
#pragma once
#include <filesystem>
#include <utility>

#include "../base/error_words.hpp"
#include "hairline/queue.hpp"
#include "report_blocks.hpp"

namespace hairline {

constexpr Range from_one{1, 4294967295.0}, of_shards{1, most_shards}, of_copies{1, most_copies};

constexpr std::array<const char*, 6> words_for(LeftOut) {
  return {"not_checked", "no_such_printer", "other_pixels", "too_large", "hold", "no_resin"};
}

void each_field(auto& f, Like<Shard> auto& shard) {
  f("part", shard.part, of_shards);
  f("of", shard.of, of_shards);
}

void each_field(auto& f, Like<QueuePrinter> auto& printer) {
  f("label", printer.label);
  f("record", printer.record);
  f("resin_ml", printer.resin_ml);
  f("vat_ml", printer.vat_ml);
  f("plate_mm", printer.plate_mm);
  f("changeover_min", printer.changeover_min);
}

void each_field(auto& f, Like<Error> auto& error) {
  f("kind", error.kind);
  f("file", error.file);
  f("layer", error.layer, layer_number);
  f("found", error.found);
  f("expected", error.expected);
  f("advice", error.advice);
  f("command", error.command);
}

void each_field(auto& f, Like<QueueRow::Record> auto& record) {
  f("file", record.file);
  f("resin", record.resin);
  f("printer", record.printer);
  f("age_days", record.age_days);
  f("doubts", record.doubts);
  f("pitch_mm", record.pitch_mm);
  f("layer_height_mm", record.layer_height_mm);
}

// Of a job that was not checked there is nothing but its error.
void each_field(auto& f, Like<QueueRow> auto& row) {
  f("printers", row.printers);
  f("error", row.error);
  if (row.error) return;
  f("title", row.title);
  f("verdict", row.verdict);
  f("first_reason", row.first_reason);
  f("duration_s", row.duration_s);
  f("resin_ml", row.resin_ml);
  f("resin_g", row.resin_g);
  f("resin_cost", row.resin_cost);
  f("exposure_s", row.exposure_s, positive);
  f("suggested_s", row.suggested_s, positive);
  f("suggested_verdict", row.suggested_verdict);
  f("size_mm", row.size_mm);
  f("pitch_x_mm", row.pitch.x_mm, positive);
  f("pitch_y_mm", row.pitch.y_mm, positive);
  f("layer_height_mm", row.layer_height_mm, positive);
  f("layers", row.layers, layer_number);
  f("record", row.record);
  f("report", row.report);
  f("page", row.page);
  if constexpr (is_reader<decltype(f)>)
    for (const auto& [field, name] : {std::pair{"report", row.report}, std::pair{"page", row.page}})
      if (std::filesystem::path(name).filename() != name) f.wrong(field, "the name of a file beside this one");
}

void each_field(auto& f, Like<QueueEntry> auto& entry) {
  f("place", entry.place, from_one);
  f("file", entry.job.file);
  f("printer", entry.job.printer);
  f("exposure_s", entry.job.exposure_s, positive);
  f("copies", entry.job.copies, of_copies);
  f("rows", entry.rows);
}

void each_field(auto& f, Like<PlannedPrint> auto& print) {
  f("job", print.job);
  f("copy", print.copy, of_copies);
  f("row", print.row);
  f("printer", print.printer);
  f("start_s", print.start_s);
  f("end_s", print.end_s);
  f("late", print.late);
  f("resin_left_ml", print.resin_left_ml);
  f("over_vat", print.over_vat);
  f("resin_change", print.resin_change);
}

void each_field(auto& f, Like<NotPlanned> auto& left) {
  f("job", left.job);
  f("row", left.row);
  f("copies", left.copies, of_copies);
  f("why", left.why);
  f("printer", left.printer);
  f("needed", left.needed);
  f("available", left.available);
}

void each_field(auto& f, Like<NightPlan> auto& plan) {
  f("prints", plan.prints);
  f("not_planned", plan.not_planned);
  f("duration_s", plan.duration_s);
  f("allowed_s", plan.allowed_s);
  f("latest_start", plan.latest_start);
}

void each_field(auto& f, Like<QueueTotals> auto& totals) {
  f("checked", totals.checked);
  f("not_checked", totals.not_checked);
  f("clear", totals.clear);
  f("caution", totals.caution);
  f("hold", totals.hold);
  f("resin_ml", totals.resin_ml);
  f("resin_g", totals.resin_g);
  f("resin_cost", totals.resin_cost);
  f("without_price", totals.without_price);
}

void each_field(auto& f, Like<CheckedQueue> auto& night) {
  f("start", night.times.start);
  f("ready_by", night.times.ready_by);
  f("zone", night.times.zone);
  f("shard", night.shard);
  f("jobs_in_all", night.jobs_in_all);
  f("printers", night.printers);
  f("jobs", night.entries);
  std::optional<NightPlan> plan;  // a share has none
  if (!f.reads && !night.shard) plan = night.plan;
  f("plan", plan);
  if constexpr (is_reader<decltype(f)>) {
    if (plan.has_value() == night.shard.has_value()) return f.wrong("plan", "a plan of a whole queue, null of a share");
    night.plan = plan.value_or(NightPlan());
  }
}

}  // namespace hairline
