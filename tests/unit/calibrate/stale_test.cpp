// Thresholds: common practice, no source.
#include "hairline/stale.hpp"

#include <catch2/catch.hpp>

using namespace hairline;

namespace {

ResinRecord record_of_november() {
  ResinRecord record;
  record.resin.label = "harbour grey";
  record.resin.colour = "grey";
  record.resin.batch = "H-114";
  record.printer.label = "workshop left";
  record.printer.pitch_mm = 0.05;
  record.printer.lamp_power_percent = 100;
  record.printer.lamp_hours = 410;
  record.conditions.date = "2026-11-01";
  record.conditions.resin_temp_c = 23;
  return record;
}

JobContext same_evening() {
  JobContext job;
  job.today = "2026-11-01";
  job.pitch_x_mm = job.pitch_y_mm = 0.05;
  job.layer_height_mm = 0.05;
  job.resin_label = "harbour grey";
  job.printer_label = "workshop left";
  job.resin_batch = "H-114";
  job.resin_colour = "grey";
  job.lamp_hours = 410;
  job.lamp_power_percent = 100;
  job.resin_temp_c = 23;
  return job;
}

void says(const JobContext& job, const std::string& words, const StaleSettings& settings = {}) {
  const auto notes = staleness(record_of_november(), job, settings);
  INFO(words);
  REQUIRE(notes.size() == 1);
  CHECK_THAT(notes[0], Catch::Contains(words));
  CHECK(notes[0].back() == '.');
}

}  // namespace

TEST_CASE("under the same conditions nothing is said") {
  CHECK(staleness(record_of_november(), same_evening()).empty());
  CHECK(staleness(record_of_november(), {}).empty());  // nothing known of the job: nothing to say
}

TEST_CASE("each condition warns beyond its threshold, and not at it") {
  JobContext job = same_evening();
  SECTION("age") {
    job.today = "2026-12-01";
    CHECK(staleness(record_of_november(), job).empty());
    job.today = "2026-12-02";
    says(job, "31 days old");
  }
  SECTION("a date ahead of today") {
    job.today = "2026-10-30";
    says(job, "2 days after today");
    job.today = "2026-10-31";
    says(job, "1 day after today");
  }
  SECTION("temperature") {
    job.resin_temp_c = 18;
    CHECK(staleness(record_of_november(), job).empty());
    job.resin_temp_c = 17.5;
    says(job, "17.5 degrees C");
  }
  SECTION("lamp hours") {
    job.lamp_hours = 610;
    CHECK(staleness(record_of_november(), job).empty());
    job.lamp_hours = 611;
    says(job, "201 hours");
    job.lamp_hours = 5;
    says(job, "a new lamp");
  }
  SECTION("lamp power") {
    job.lamp_power_percent = 80;
    says(job, "80 % power");
  }
  SECTION("pitch") {
    job.pitch_y_mm = 0.035;  // pixels that are not square: the record holds one side
    CHECK(staleness(record_of_november(), job).empty());
    job.pitch_x_mm = 0.035;
    says(job, "pitch is 0.035 mm");
    CHECK_FALSE(Catch::Contains("decimal").match(staleness(record_of_november(), job)[0]));
    job.pitch_x_mm = job.pitch_y_mm = 0.5;
    says(job,
         "the record's 0.05 mm: another panel or printer has another blur and needs a record of its own. Look "
         "where the decimal point is first.");
  }
  SECTION("layer height") {
    job.layer_height_mm = 0.03;
    says(job, "0.03 mm high");
    CHECK_FALSE(Catch::Contains("decimal").match(staleness(record_of_november(), job)[0]));
    job.layer_height_mm = 0.5;
    says(job, "is surer. Look where the decimal point is first.");
    job.layer_height_mm = 0.005;
    says(job, "Look where the decimal point is first.");
  }
  SECTION("labels, batch, colour") {
    job.resin_label = "lantern clear";
    says(job, "\"lantern clear\"");
    job = same_evening(), job.printer_label = "workshop right";
    says(job, "printer is \"workshop right\"");
    job = same_evening(), job.resin_batch = "H-115";
    says(job, "batch is \"H-115\"");
    job = same_evening(), job.resin_colour = "white";
    says(job, "colour is \"white\"");
  }
  SECTION("each is a setting") {
    StaleSettings settings;
    settings.most_age_days = 3;
    job.today = "2026-11-05";
    says(job, "4 days old", settings);
  }
}

TEST_CASE("a record that leaves out its date or layer height says so") {
  ResinRecord record = record_of_november();
  record.conditions.date.clear();
  record.layer_height_assumed = true;
  const auto notes = left_unsaid(record, same_evening());
  REQUIRE(notes.size() == 2);
  CHECK_THAT(notes[0], Catch::Contains("no date"));
  CHECK_THAT(notes[1], Catch::Contains("0.05 mm is assumed"));
  CHECK(staleness(record, same_evening()).empty());  // nothing speaks against it
  CHECK(left_unsaid(record_of_november(), same_evening()).empty());
}

TEST_CASE("lamp power and irradiance scale every time: dose = irradiance x time") {
  ResinRecord record = record_of_november();
  CureModel model;
  model.bond_time_s = 1.6, model.fuse_time_s = 0.55, model.blur_mm = 0.038, model.penetration_depth_mm = 0.16;
  model.valid_from_s = 1.8, model.valid_to_s = 3.2;
  JobContext job = same_evening();
  job.lamp_power_percent = 80;
  const auto dimmer = scaled_to_lamp(record, model, job);
  REQUIRE(dimmer);
  CHECK(dimmer->factor == Approx(1.25));
  CHECK(dimmer->model.bond_time_s == Approx(2.0));
  CHECK(dimmer->model.fuse_time_s == Approx(0.6875));
  CHECK(dimmer->model.valid_to_s == Approx(4.0));
  CHECK(dimmer->model.blur_mm == 0.038);
  CHECK_THAT(dimmer->note, Catch::Contains("multiplied by 1.25"));
  // The limits at the scaled time are those of the record at its own.
  CHECK(wall_limit_mm(dimmer->model, 2.5 * 1.25) == Approx(wall_limit_mm(model, 2.5)));
  record.printer.irradiance_mw_per_cm2 = 4;
  job.irradiance_mw_per_cm2 = 5;  // measured light goes before the setting
  const auto brighter = scaled_to_lamp(record, model, job);
  REQUIRE(brighter);
  CHECK(brighter->factor == Approx(0.8));
  job.irradiance_mw_per_cm2 = 0;
  CHECK_FALSE(scaled_to_lamp(record, model, job));
  job.irradiance_mw_per_cm2 = 0.39;  // over ten times less than 4: a decimal point, or another unit
  const auto slipped = scaled_to_lamp(record, model, job);
  REQUIRE_FALSE(slipped);
  CHECK_THAT(to_paragraph(slipped.error()),
             Catch::Contains("0.39 mW/cm2 of irradiance") && Catch::Contains("decimal point"));
  const auto unknown = scaled_to_lamp(record, model, {});
  REQUIRE(unknown);
  CHECK(unknown->factor == 1);
  CHECK(unknown->note.empty());
}
