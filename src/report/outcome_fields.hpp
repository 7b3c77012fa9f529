// The fields of an outcome in its file (formats/print-outcome.md), in their order, as report_blocks.hpp has those of a
// report. Internal to src/report.
#pragma once
#include "hairline/outcome.hpp"
#include "report_blocks.hpp"

namespace hairline {

void each_field(auto& f, Like<Outcome::Job> auto& job) {
  f("file", job.file);
  f("title", job.title);
  f("content", job.content);
}

void each_field(auto& f, Like<Outcome::Record> auto& record) {
  f("file", record.file);
  f("resin", record.resin);
  f("printer", record.printer);
  f("blur_mm", record.blur_mm, {0, 1000, false, "mm"});
}

void each_field(auto& f, Like<Prediction> auto& one) {
  f("id", one.id, layer_number);
  f("fate", one.fate);
  f("state", one.state);
  f("chance", one.chance, share);
  f("critical_exposure_s", one.critical_exposure_s, positive);
  f("log_sd", one.log_sd, {0, 10, true});
  f("width_mm", one.width_mm);
  f("from_layer", one.from_layer, layer_number);
  f("to_layer", one.to_layer, layer_number);
  f("box_mm", one.box);
  f("name", one.name);
  f("seen", one.seen);
}

void each_field(auto& f, Like<OtherLoss> auto& other) {
  f("fate", other.fate);
  f("note", other.note);
}

void each_field(auto& f, Like<Outcome> auto& outcome) {
  f("job", outcome.job);
  std::optional<LocalTime> printed_on;
  if (!f.reads) printed_on = outcome.printed_on;
  f("printed_on", printed_on);
  f("exposure_s", outcome.exposure_s, {0, 3600, true, "s"});
  f("record", outcome.record);
  f("verdict", outcome.verdict);
  f("came_off", outcome.came_off);
  f("fine", outcome.fine);
  f("predictions", outcome.predictions);
  f("others", outcome.others);
  f("note", outcome.note);
  if constexpr (is_reader<decltype(f)>) {
    if (!printed_on) return f.wrong("printed_on", "a date and a time, YYYY-MM-DDTHH:MM");
    outcome.printed_on = *printed_on;
  }
}

}  // namespace hairline
