// Nights built by hand, of the harbour museum's workshop: three printers over midnight, one printer, a share.
#pragma once
#include <filesystem>

#include "hairline/queue.hpp"

namespace hairline::sample {

inline LocalTime local(const char* text) {
  return parse_local_time(text).value();
}

/// A clear job of `duration_s` that takes `resin_ml`, for printer `printer`.
inline QueueEntry job(std::uint32_t place, const std::string& file, double duration_s, double resin_ml,
                      std::uint32_t printer = 0) {
  QueueEntry entry;
  entry.place = place;
  entry.job.file = file;
  QueueRow row;
  row.printers = {printer};
  row.title = file;
  row.duration_s = duration_s;
  row.resin_ml = resin_ml;
  row.resin_g = 1.1 * resin_ml;
  row.exposure_s = 2.3;
  row.size_mm = {72, 128};
  row.pitch = {0.05, 0.05};
  row.layer_height_mm = 0.05;
  row.layers = 1842;
  row.record = {"records/harbour-grey.json", "harbour grey", "quay bench", 6, {}, 0.05, 0.05};
  const std::string stem = std::filesystem::path(file).stem().string();
  row.report = stem + ".json";
  row.page = stem + ".html";
  entry.rows = {row};
  return entry;
}

inline QueueEntry doubtful(QueueEntry entry) {
  entry.rows[0].verdict = Verdict::caution;
  entry.rows[0].first_reason = "A gap 0.15 mm wide may close on layers 117 to 120 (5.8 to 6.0 mm up).";
  entry.rows[0].suggested_s = 2.45;
  return entry;
}

inline QueueEntry held(QueueEntry entry, std::optional<double> at_s, Verdict then) {
  QueueRow& row = entry.rows[0];
  row.verdict = Verdict::hold;
  row.first_reason = "A part 0.10 mm thin will be missing on layers 811 to 974 (40.5 to 48.7 mm up).";
  row.suggested_s = at_s;
  if (at_s) row.suggested_verdict = then;
  return entry;
}

inline QueueEntry broken(std::uint32_t place, const std::string& file) {
  QueueEntry entry;
  entry.place = place;
  entry.job.file = file;
  QueueRow row;
  row.printers = {0};
  row.error = Error{ErrorKind::broken, file, "it is not a ZIP", "a ZIP or a folder", "Export it again."};
  entry.rows = {row};
  return entry;
}

constexpr double hour_s = 3600, minute_s = 60;

/// Three printers, 26 Nov 2026 at 22:00 to 07:30. By hand: the quay bench prints 3 h (to 01:00), after 20 min 5 h
/// (01:20 to 06:20) and after 20 min 2 h (06:40 to 08:40, late by 1 h 10 min); 61 + 90 + 29 = 180 of 200 ml, so that
/// 20 ml are left and a job of 40 ml is 20 ml too large for them. The lamp bench prints two resins, 2 h and 1 h. The
/// slip bench has nothing.
inline CheckedQueue three_printers() {
  CheckedQueue night;
  night.times = {local("2026-11-26T22:00"), local("2026-11-27T07:30"), "Europe/Berlin"};
  night.printers = {{.label = "quay bench",
                     .record = "records/harbour-grey.json",
                     .resin_ml = 200,
                     .vat_ml = 100,
                     .plate_mm = {{143, 89}},
                     .changeover_min = 20},
                    {.label = "lamp bench", .record = "records", .resin_ml = {}, .vat_ml = {}, .plate_mm = {}},
                    {.label = "slip bench", .record = {}, .resin_ml = {}, .vat_ml = {}, .plate_mm = {}}};
  night.entries = {job(1, "night/gallery.zip", 3 * hour_s, 61),
                   doubtful(job(2, "night/cutter.zip", 5 * hour_s, 90)),
                   job(3, "night/beacon.zip", 2 * hour_s, 29),
                   job(4, "night/cottage.zip", 2 * hour_s, 12, 1),
                   job(5, "night/mole.zip", hour_s, 130, 1),
                   held(job(6, "night/pickets.zip", 8 * hour_s, 50), 2.65, Verdict::caution),
                   broken(7, "night/wreck.zip"),
                   job(8, "night/buoys.zip", 4 * hour_s, 40),
                   job(9, "night/hull.zip", 9 * hour_s, 200),
                   job(10, "night/crane.zip", 1 * hour_s, 5),
                   held(job(11, "night/shroud.zip", hour_s, 2), {}, Verdict::hold)};
  for (QueueEntry& entry : night.entries)
    entry.job.printer = entry.rows[0].printers[0] == 0 ? "quay bench" : "lamp bench";
  night.entries[4].rows[0].record = {
      "records/chalk.json", "chalk white", "lamp bench", 210, {"The record is 210 days old."}, 0.05, 0.05};
  for (const std::size_t dear : {0, 1, 2})
    night.entries[dear].rows[0].resin_cost = 0.04 * night.entries[dear].rows[0].resin_ml;
  night.jobs_in_all = 11;
  NightPlan& plan = night.plan;
  plan.prints = {
      {.job = 0, .start_s = 0, .end_s = 3 * hour_s, .resin_left_ml = 139},
      {.job = 1, .start_s = 3 * hour_s + 20 * minute_s, .end_s = 8 * hour_s + 20 * minute_s, .resin_left_ml = 49},
      {.job = 2,
       .start_s = 8 * hour_s + 40 * minute_s,
       .end_s = 10 * hour_s + 40 * minute_s,
       .late = true,
       .resin_left_ml = 20},
      {.job = 3, .printer = 1, .start_s = 0, .end_s = 2 * hour_s, .resin_left_ml = {}},
      {.job = 4, .printer = 1, .start_s = 2 * hour_s, .end_s = 3 * hour_s, .resin_left_ml = {}, .resin_change = true}};
  plan.not_planned = {{.job = 5, .why = LeftOut::hold, .printer = {}},
                      {.job = 6, .why = LeftOut::not_checked, .printer = {}},
                      {.job = 7, .why = LeftOut::no_resin, .printer = 0, .needed = 40, .available = 20},
                      {.job = 8, .why = LeftOut::too_large, .printer = 0, .needed = 150.4, .available = 143},
                      {.job = 9, .why = LeftOut::other_pixels, .printer = 0, .needed = 0.05, .available = 0.035},
                      {.job = 10, .why = LeftOut::hold, .printer = {}}};
  plan.duration_s = 10 * hour_s + 40 * minute_s;
  plan.allowed_s = 9.5 * hour_s;
  plan.latest_start = local("2026-11-26T20:50");
  return night;
}

/// Clear jobs of an hour each on one printer without a name, one after the other, without times.
inline CheckedQueue one_printer(std::uint32_t jobs) {
  CheckedQueue night;
  night.printers.resize(1);
  night.jobs_in_all = jobs;
  for (std::uint32_t i = 0; i < jobs; ++i) {
    night.entries.push_back(job(i + 1, "night/post-" + std::to_string(i + 1) + ".zip", hour_s, 10));
    night.plan.prints.push_back({.job = i, .start_s = i * hour_s, .end_s = (i + 1) * hour_s, .resin_left_ml = {}});
  }
  night.plan.duration_s = jobs * hour_s;
  return night;
}

/// The second of four shares of three_printers.
inline CheckedQueue one_share() {
  CheckedQueue night = three_printers();
  night.shard = Shard{2, 4};
  night.entries = {night.entries[1], night.entries[5], night.entries[6]};
  night.plan = {};
  return night;
}

}  // namespace hairline::sample
