// What a remembered report depends on: every part of the job, the record and the options, and nothing else.
#include "queue/keys.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <tuple>

#include "night_support.hpp"

using namespace hairline;
using namespace hairline::queue;
using namespace hairline::test;

namespace {

// ---- every member of a struct, so that one that is added does not compile here until it is listed ----

auto members(JobSettings& job) {
  auto& [title, size, pitch, mirrored, layer_count, files, height_mm, normal_s, base_s, base_layers, transition_layers,
         motion, density, resin, printer, exceptions, assumed, remarks] = job;
  auto& [width_px, height_px] = size;
  auto& [x_mm, y_mm] = pitch;
  auto& [lift_mm, lift, retract, before_s, after_s] = motion;
  return std::tie(title, width_px, height_px, x_mm, y_mm, mirrored, layer_count, height_mm, normal_s, base_s,
                  base_layers, transition_layers, lift_mm, lift, retract, before_s, after_s, density, resin, printer,
                  exceptions, assumed);
}
auto members(Exception& exception) {
  auto& [from_layer, to_layer, height_mm, exposure_s] = exception;
  return std::tie(from_layer, to_layer, height_mm, exposure_s);
}
auto members(AnalyseSettings& settings) {
  auto& [exposure_s, risk, thickness, sweep, threads, memory_bytes, tonight] = settings;
  auto& [least_chance, least_mm3, least_flat_mm3, spread, visible_mm, share, reach_mm, carried_mm3, most] = risk;
  auto& [limit_mm, angle, step] = thickness;
  auto& [from_s, to_s, steps] = sweep;
  auto& [today, pitch_x, pitch_y, height, resin, colour, batch, printer, hours, power, irradiance, temp] = tonight;
  return std::tie(exposure_s, least_chance, least_mm3, least_flat_mm3, spread, visible_mm, share, reach_mm, carried_mm3,
                  most, limit_mm, angle, step, from_s, to_s, steps, today, pitch_x, pitch_y, height, resin, colour,
                  batch, printer, hours, power, irradiance, temp);
}

void change(std::string& value) {
  value += "x";
}
void change(bool& value) {
  value = !value;
}
void change(std::uint32_t& value) {
  ++value;
}
void change(double& value) {
  value += 1e-9;
}
void change(std::optional<double>& value) {
  value = value.value_or(0) + 1;
}
void change(std::vector<std::string>& value) {
  value.emplace_back();
}
void change(std::vector<Exception>& value) {
  value.emplace_back();
}

// Changes one member after the other and puts it back.
template <class Struct, class Check>
void with_each_changed(Struct& all, const Check& check) {
  std::apply(
      [&](auto&... member) {
        const auto one = [&](auto& value) {
          const auto before = value;
          change(value);
          check();
          value = before;
        };
        (one(member), ...);
      },
      members(all));
}

struct Parts {
  std::string content = "masks", record = "record";
  JobSettings job;
  AnalyseSettings settings;
  std::string key() const { return report_key({content, job, record, settings}); }
};

}  // namespace

TEST_CASE("a report's key holds every setting of the job and every option") {
  Parts parts;
  parts.job.exceptions.emplace_back();
  const std::string before = parts.key();
  CHECK(before.size() == 32);
  std::vector<std::string> keys = {before};
  const auto differs = [&] { keys.push_back(parts.key()); };
  with_each_changed(parts.job, differs);
  with_each_changed(parts.job.exceptions.front(), differs);
  with_each_changed(parts.settings, differs);
  parts.content = "other masks", differs(), parts.content = "masks";
  parts.record = "another record", differs(), parts.record = "record";
  CHECK(parts.key() == before);
  CHECK(keys.size() == 1 + 22 + 4 + 28 + 2);
  std::sort(keys.begin(), keys.end());
  CHECK(std::adjacent_find(keys.begin(), keys.end()) == keys.end());
}

TEST_CASE("a report's key does not hold what no report depends on") {
  Parts parts;
  const std::string before = parts.key();
  parts.job.files = "out/*.png";
  parts.job.remarks = {"It was read by a description."};
  parts.settings.threads = 7;
  parts.settings.memory_bytes = 1u << 30;
  CHECK(parts.key() == before);
  parts.record.clear();  // measured only: the day does not matter
  const std::string measured = parts.key();
  CHECK(measured != before);
  parts.settings.tonight.today = "2026-11-26";
  CHECK(parts.key() == measured);
}

TEST_CASE("texts side by side are not mistaken for one another") {
  Parts a, b;
  a.job.resin_label = "grey", a.job.printer_label = "quay";
  b.job.resin_label = "greyq", b.job.printer_label = "uay";
  CHECK(a.key() != b.key());
}

TEST_CASE("a record counts by what it says, not by where it lies") {
  const ResinRecord record = small_record();
  ResinRecord moved = record;
  moved.file = "elsewhere/grey.json";
  CHECK(record_key(moved) == record_key(record));
  CHECK(record_key(small_record(1.7)) != record_key(record));
  ResinRecord other = record;
  other.remarks = {"It is the newest of two."};
  CHECK(record_key(other) != record_key(record));
  other = record, other.layer_height_assumed = true;
  CHECK(record_key(other) != record_key(record));
  other = record, other.valid_range_assumed = true;
  CHECK(record_key(other) != record_key(record));
  other = record, other.fit->log_covariance.emplace();
  CHECK(record_key(other) != record_key(record));
}

TEST_CASE("days on which a record is equally stale have one stand-in") {
  const ResinRecord record = small_record();  // of 2026-11-01
  const auto day = [&](const std::string& today) { return stand_in_day(record, today); };
  CHECK(day("2026-11-01") == "2026-11-01");
  CHECK(day("2026-12-01") == "2026-11-01");  // 30 days
  CHECK(day("2026-12-02") == "2026-12-02");  // 31: stale
  CHECK(day("2028-03-01") == "2026-12-02");
  CHECK(day("2026-10-01") == "2026-10-31");  // dated after today
  CHECK(day("") == "");
  ResinRecord undated = record;
  undated.conditions.date.clear();
  CHECK(stand_in_day(undated, "2026-11-26") == stand_in_day(undated, "2027-05-01"));
  JobContext known;
  known.today = stand_in_day(undated, "2026-11-26");
  CHECK(left_unsaid(undated, known).size() == 1);
}

TEST_CASE("today's age is put into a report of the stand-in day") {
  ResinRecord record = small_record();
  record.file = "records/grey.json";
  Report report;
  report.job.file = "old name.zip";
  Report::Record& judged = report.record.emplace();
  JobContext known;
  known.today = stand_in_day(record, "2026-12-16");
  judged.doubts = staleness(record, known);
  REQUIRE(judged.doubts.size() == 1);
  report.reasons = {"Another reason.", judged.doubts[0]};
  put(stamp_for("new name.zip", {"A remark."}, &record, "2026-12-16"), report);
  CHECK(report.job.file == "new name.zip");
  CHECK(report.job.remarks == std::vector<std::string>{"A remark."});
  CHECK(judged.file == "records/grey.json");
  CHECK(judged.age_days == 45);
  CHECK(judged.doubts[0].starts_with("The record is 45 days old"));
  CHECK(report.reasons == std::vector<std::string>{"Another reason.", judged.doubts[0]});
}
