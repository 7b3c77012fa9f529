#include "record_notes.hpp"

#include <fmt/core.h>

#include "hairline/fit.hpp"

namespace hairline {

namespace {

// Tonight's lamp scales the times of the record, and so those its coupons would have.
std::vector<BracketReading> readings_by(const ResinRecord& record, const CureModel& model) {
  std::vector<BracketReading> readings;
  for (const BracketReading& one : record.bracket) {
    if (!one.thinnest_wall_mm && !one.narrowest_slot_mm && !one.thinnest_pin_mm && !one.smallest_hole_mm) continue;
    BracketReading& reading = readings.emplace_back();
    reading.exposure_s = one.exposure_s * model.bond_time_s / record.fit->bond_time_s;
    reading.thinnest_wall_mm = one.thinnest_wall_mm, reading.narrowest_slot_mm = one.narrowest_slot_mm;
    reading.thinnest_pin_mm = one.thinnest_pin_mm, reading.smallest_hole_mm = one.smallest_hole_mm;
  }
  return readings;
}

}  // namespace

Report::Record judge_record(const Against& against, double normal_s) {
  const ResinRecord& record = against.record;
  const CureModel& model = against.risk.model;
  Report::Record judged;
  judged.file = record.file;
  judged.resin = record.resin.label;
  judged.printer = record.printer.label;
  judged.model = model;
  judged.readings = readings_by(record, model);
  if (!against.tonight.today.empty()) judged.age_days = age_days(record, against.tonight.today);
  if (!covers(model, normal_s)) {
    const auto meant = [&](double by, const char* slip) {
      return covers(model, normal_s / by)
                 ? fmt::format(" If {}, check again with --exposure {:.5g}.", slip, normal_s / by)
                 : "";
    };
    const char* point = "its decimal point slipped";
    judged.doubts.push_back(
        fmt::format("{:.2f} s lies outside the times the record covers ({:.2f} to {:.2f} s): what is said of it is a "
                    "guess.{}{}{}",
                    normal_s, model.valid_from_s, model.valid_to_s, meant(1000, "it is milliseconds"), meant(10, point),
                    meant(0.1, point)));
  }
  for (std::string& doubt : staleness(record, against.tonight)) judged.doubts.push_back(std::move(doubt));
  if (std::string weak = weakness(record); !weak.empty()) judged.doubts.push_back(std::move(weak));
  judged.notes = left_unsaid(record, against.tonight);
  if (!model.log_covariance) {
    judged.notes.push_back("The record states no uncertainty of its own; chances rest on the spread of dose alone.");
  }
  if (!model.flat_time_s) judged.notes.push_back("Flat gaps rest on no reading of a flat slot.");
  judged.notes.insert(judged.notes.end(), record.remarks.begin(), record.remarks.end());
  if (!against.lamp_note.empty()) judged.notes.push_back(against.lamp_note);
  return judged;
}

}  // namespace hairline
