#include "hairline/stale.hpp"

#include <fmt/format.h>

#include <cmath>

#include "../base/numbers.hpp"

namespace hairline {
namespace {

bool differs(double a, double b, double tolerance_percent) {
  return std::abs(a - b) > tolerance_percent / 100 * std::abs(a);
}

// Of lengths so far apart that a decimal point may have slipped.
std::string doubt_of_size(double mine_mm, double records_mm) {
  constexpr double far = 5;  // common practice, no source: layers of 0.02 to 0.1 mm, pixels of 0.02 to 0.08 mm
  const bool slipped = mine_mm > far * records_mm || records_mm > far * mine_mm;
  return slipped ? " Look where the decimal point is first." : "";
}

bool both(const std::string& a, const std::string& b) {
  return !a.empty() && !b.empty();
}

void note_age(const ResinRecord& record, const JobContext& job, const StaleSettings& settings,
              std::vector<std::string>& notes) {
  const auto age = age_days(record, job.today);
  if (!age) return;
  if (*age < 0)
    notes.push_back(
        fmt::format("The record is dated {} day{} after today; check the date.", -*age, *age == -1 ? "" : "s"));
  if (*age > settings.most_age_days) {
    notes.push_back(
        fmt::format("The record is {} days old; resin and lamp change, so print a new coupon after {} days.", *age,
                    settings.most_age_days));
  }
}

void note_conditions(const ResinRecord& record, const JobContext& job, const StaleSettings& settings,
                     std::vector<std::string>& notes) {
  const auto& made_at = record.conditions.resin_temp_c;
  if (made_at && job.resin_temp_c && std::abs(*job.resin_temp_c - *made_at) > settings.most_temp_difference_c) {
    const bool cold = *job.resin_temp_c < *made_at;
    notes.push_back(fmt::format(
        "The resin is at {0} degrees C, the record was made at {1}: {2} it to {1} first, or print a coupon as "
        "it is. {3} (times are not changed for this).",
        number_text(*job.resin_temp_c), number_text(*made_at), cold ? "warm" : "let it cool",
        cold ? "Cold resin needs more time" : "Warm resin needs less time"));
  }
  const auto& hours = record.printer.lamp_hours;
  if (hours && job.lamp_hours && std::abs(*job.lamp_hours - *hours) > settings.most_lamp_hours_difference) {
    notes.push_back(
        *job.lamp_hours > *hours
            ? fmt::format(
                  "The lamp has run {:.0f} hours since the record was made and may have grown weaker: print a new "
                  "coupon.",
                  *job.lamp_hours - *hours)
            : fmt::format(
                  "The lamp shows {:.0f} hours less than when the record was made: a new lamp needs a new record.",
                  *hours - *job.lamp_hours));
  }
  const auto& power = record.printer.lamp_power_percent;
  if (power && job.lamp_power_percent && differs(*power, *job.lamp_power_percent, settings.power_tolerance_percent)) {
    notes.push_back(fmt::format("The lamp is set to {} % power, the record was made at {} %.",
                                number_text(*job.lamp_power_percent), number_text(*power)));
  }
  const auto& irradiance = record.printer.irradiance_mw_per_cm2;
  if (irradiance && job.irradiance_mw_per_cm2 &&
      differs(*irradiance, *job.irradiance_mw_per_cm2, settings.power_tolerance_percent)) {
    notes.push_back(fmt::format("The irradiance is {} mW/cm2, the record was made at {} mW/cm2.",
                                number_text(*job.irradiance_mw_per_cm2), number_text(*irradiance)));
  }
}

void note_pitch(const ResinRecord& record, const JobContext& job, const StaleSettings& settings,
                std::vector<std::string>& notes) {
  const auto& pitch = record.printer.pitch_mm;
  if (!pitch || !job.pitch_x_mm) return;
  const auto other = [&](double mine_mm) { return differs(*pitch, mine_mm, settings.pitch_tolerance_percent); };
  // Of a panel whose pixels are not square the record holds one side.
  if (!other(*job.pitch_x_mm) || !other(job.pitch_y_mm.value_or(*job.pitch_x_mm))) return;
  notes.push_back(
      fmt::format("The job's pixel pitch is {} mm, the record's {} mm: another panel or printer has another blur and "
                  "needs a record of its own.{}",
                  number_text(*job.pitch_x_mm), number_text(*pitch), doubt_of_size(*job.pitch_x_mm, *pitch)));
}

void note_labels(const ResinRecord& record, const JobContext& job, std::vector<std::string>& notes) {
  const auto compare = [&](const char* what, const std::string& jobs, const std::string& records) {
    if (both(jobs, records) && jobs != records) {
      notes.push_back(
          fmt::format("The job's {0} is \"{1}\", the record's \"{2}\": take the record of that {0}, or make "
                      "one, if they are not the same.",
                      what, jobs, records));
    }
  };
  compare("resin", job.resin_label, record.resin.label);
  compare("printer", job.printer_label, record.printer.label);
  compare("resin batch", job.resin_batch, record.resin.batch);
  compare("resin colour", job.resin_colour, record.resin.colour);
}

void note_height(const ResinRecord& record, const JobContext& job, const StaleSettings& settings,
                 std::vector<std::string>& notes) {
  if (job.layer_height_mm && std::abs(*job.layer_height_mm - record.layer_height_mm) > settings.height_tolerance_mm) {
    notes.push_back(
        fmt::format("The job's layers are {} mm high, the record was made at {} mm; times are carried over by the "
                    "penetration depth. A record made at that height is surer.{}",
                    number_text(*job.layer_height_mm), number_text(record.layer_height_mm),
                    doubt_of_size(*job.layer_height_mm, record.layer_height_mm)));
  }
}

}  // namespace

std::vector<std::string> staleness(const ResinRecord& record, const JobContext& job, const StaleSettings& settings) {
  std::vector<std::string> notes;
  note_age(record, job, settings, notes);
  note_conditions(record, job, settings, notes);
  note_pitch(record, job, settings, notes);
  note_labels(record, job, notes);
  note_height(record, job, settings, notes);
  return notes;
}

std::vector<std::string> left_unsaid(const ResinRecord& record, const JobContext& job) {
  std::vector<std::string> notes;
  if (!age_days(record, job.today) && day_number(job.today))
    notes.emplace_back("The record carries no date, so its age is not known.");
  if (record.layer_height_assumed) {
    notes.push_back(fmt::format("The record does not say its layer height; {} mm is assumed.",
                                number_text(record.layer_height_mm)));
  }
  if (record.valid_range_assumed && record.fit) {
    notes.push_back(fmt::format("The record does not say which times it covers; {:.2f} to {:.2f} s is assumed.",
                                record.fit->valid_from_s, record.fit->valid_to_s));
  }
  return notes;
}

CureModel scaled_times(const CureModel& model, double factor) {
  CureModel scaled = model;
  scaled.bond_time_s *= factor;
  scaled.fuse_time_s *= factor;
  if (scaled.flat_time_s) *scaled.flat_time_s *= factor;
  scaled.valid_from_s *= factor;
  scaled.valid_to_s *= factor;
  return scaled;
}

Result<ScaledModel> scaled_to_lamp(const ResinRecord& record, const CureModel& model, const JobContext& job) {
  ScaledModel scaled{model, 1, ""};
  std::string far_off;
  const auto apply = [&](const std::optional<double>& recorded, const std::optional<double>& now, const char* what,
                         const char* unit) {
    if (!recorded || !now) return false;
    if (*now < *recorded / 10 || *now > *recorded * 10)
      far_off = fmt::format("{} {} of {}", number_text(*now), unit, what);
    scaled.factor = *recorded / *now;
    scaled.model = scaled_times(model, scaled.factor);
    if (std::abs(scaled.factor - 1) > 1e-9) {
      scaled.note =
          fmt::format("All times of the record are multiplied by {:.3g}, because the {} is {} {} instead of {} {}.",
                      scaled.factor, what, number_text(*now), unit, number_text(*recorded), unit);
    }
    return true;
  };
  for (const auto& value : {job.irradiance_mw_per_cm2, job.lamp_power_percent}) {
    if (value && !(*value > 0 && std::isfinite(*value))) {
      return tl::unexpected(Error{ErrorKind::usage, "", fmt::format("a lamp power or irradiance of {}", *value),
                                  "a number over 0", "Correct it."});
    }
  }
  if (!apply(record.printer.irradiance_mw_per_cm2, job.irradiance_mw_per_cm2, "irradiance", "mW/cm2")) {
    apply(record.printer.lamp_power_percent, job.lamp_power_percent, "lamp power", "%");
  }
  if (!far_off.empty())
    return tl::unexpected(Error{ErrorKind::usage, "", far_off + ", over ten times off what the record was made at",
                                "about what the record says", "Look where the decimal point is, and at the unit."});
  return scaled;
}

}  // namespace hairline
