#include "keys.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <concepts>

#include "../base/fingerprint.hpp"
#include "hairline/files.hpp"
#include "hairline/version.hpp"

namespace hairline::queue {
namespace {

// Values one behind the other. A struct is taken apart by all its members, so that a new one does not compile until it
// is decided whether it counts.
class Text {
 public:
  template <class... T>
  Text& add(const T&... values) {
    (add_one(values), ...);
    return *this;
  }
  std::string key() const { return fingerprint(text_); }

 private:
  void add_one(const std::string& value) { text_ += fmt::format("{}:{},", value.size(), value); }
  void add_one(bool value) { text_ += value ? "yes," : "no,"; }
  void add_one(std::integral auto value) { text_ += fmt::format("{},", value); }
  void add_one(double value) { text_ += fmt::format("{},", value); }  // as many digits as tell it from any other
  template <class T>
  void add_one(const std::optional<T>& value) {
    value ? void(add(true, *value)) : add_one(false);
  }
  template <class T>
  void add_one(const std::vector<T>& values) {
    add_one(values.size());
    for (const T& value : values) add_one(value);
  }

  void add_one(const Exception& exception) {
    const auto& [from_layer, to_layer, height_mm, exposure_s] = exception;
    add(from_layer, to_layer, height_mm, exposure_s);
  }
  void add_one(const Motion& motion) {
    const auto& [lift_mm, lift, retract, rest_before_s, rest_after_s] = motion;
    add(lift_mm, lift, retract, rest_before_s, rest_after_s);
  }
  void add_one(const JobSettings& job) {
    const auto& [title, size, pitch, mirrored, layer_count, files, height_mm, normal_s, base_s, base_layers,
                 transition_layers, motion, density, resin, printer, exceptions, assumed, remarks] = job;
    add(title, size.width_px, size.height_px, pitch.x_mm, pitch.y_mm, mirrored, layer_count, height_mm, normal_s);
    add(base_s, base_layers, transition_layers, motion, density, resin, printer, exceptions, assumed);
  }
  void add_one(const RiskSettings& risk) {
    const auto& [least_chance, least_detail_mm3, least_flat_detail_mm3, dose_spread, visible_mm, lost_share,
                 lost_reach_mm, lost_carried_mm3, most_looked_at] = risk;
    add(least_chance, least_detail_mm3, least_flat_detail_mm3, dose_spread, visible_mm, lost_share, lost_reach_mm);
    add(lost_carried_mm3, most_looked_at);
  }
  void add_one(const ThicknessSettings& thickness) {
    const auto& [limit_mm, least_angle_deg, width_step_mm] = thickness;
    add(limit_mm, least_angle_deg, width_step_mm);
  }
  void add_one(const SweepSettings& sweep) {
    const auto& [from_s, to_s, steps] = sweep;
    add(from_s, to_s, steps);
  }
  // The day is that of `stand_in_day`.
  void add_one(const JobContext& tonight) {
    const auto& [today, pitch_x_mm, pitch_y_mm, height_mm, resin, colour, batch, printer, lamp_hours, lamp_power,
                 irradiance, resin_temp_c] = tonight;
    add(pitch_x_mm, pitch_y_mm, height_mm, resin, colour, batch, printer, lamp_hours, lamp_power, irradiance);
    add(resin_temp_c);
  }
  void add_one(const AnalyseSettings& settings) {
    const auto& [exposure_s, risk, thickness, sweep, threads, memory_bytes, tonight] = settings;
    add(exposure_s, risk, thickness, sweep, tonight);
  }

  std::string text_;
};

// What a record says of its age alone.
std::vector<std::string> said_of_age(const ResinRecord& record, const std::string& today) {
  JobContext known;
  known.today = today;
  return staleness(record, known);
}

std::string day_after(const std::string& date, int days) {
  const std::chrono::year_month_day then{std::chrono::sys_days(std::chrono::days(*day_number(date) + days))};
  return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(then.year()), static_cast<unsigned>(then.month()),
                     static_cast<unsigned>(then.day()));
}

// Two builds of one version may find different things: the bytes of the program tell them apart, where they can be
// read.
const std::string& program_key() {
  static const std::string key = HAIRLINE_VERSION + fingerprint(read_text("/proc/self/exe", 1u << 30).value_or(""));
  return key;
}

}  // namespace

std::string record_key(const ResinRecord& record) {
  return Text()
      .add(write_record(record), record.layer_height_assumed, record.valid_range_assumed, record.remarks)
      .key();
}

std::string report_key(const KeyParts& parts) {
  const std::string& today = parts.settings.tonight.today;
  return Text()
      .add(program_key(), parts.content, parts.record, parts.job, parts.settings)
      .add(parts.record.empty() ? std::string() : today)
      .key();
}

std::string stand_in_day(const ResinRecord& record, const std::string& today) {
  const auto age = age_days(record, today);
  if (!age) return day_number(today) ? "2000-01-01" : std::string();
  const int most = StaleSettings{}.most_age_days;
  return day_after(made_on(record), *age < 0 ? -1 : *age > most ? most + 1 : 0);
}

Stamp stamp_for(const std::string& file, const std::vector<std::string>& remarks, const ResinRecord* record,
                const std::string& today) {
  Stamp stamp{file, remarks, {}, {}, {}};
  if (record == nullptr) return stamp;
  stamp.record_file = record->file;
  stamp.age_days = age_days(*record, today);
  const auto then = said_of_age(*record, stand_in_day(*record, today)), now = said_of_age(*record, today);
  for (std::size_t i = 0; i < std::min(then.size(), now.size()); ++i) stamp.dated.emplace_back(then[i], now[i]);
  return stamp;
}

void put(const Stamp& stamp, Report& report) {
  report.job.file = stamp.file;
  report.job.remarks = stamp.remarks;
  if (!report.record) return;
  report.record->file = stamp.record_file;
  report.record->age_days = stamp.age_days;
  for (const auto& [then, now] : stamp.dated) {
    std::replace(report.record->doubts.begin(), report.record->doubts.end(), then, now);
    std::replace(report.reasons.begin(), report.reasons.end(), then, now);
  }
}

}  // namespace hairline::queue
