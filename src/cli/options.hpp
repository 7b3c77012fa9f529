// Options as building blocks: kinds of values, and the groups that several commands share.
#pragma once
#include <CLI/CLI.hpp>

#include "hairline/check.hpp"

namespace hairline::cli {

// Numbers in (above, up_to], or [above, up_to]. `type` is what help shows for the value.
struct Range {
  double above, up_to;
  const char *unit, *type;
  bool with_lower_end = false;
};
inline constexpr Range seconds{0, 3600, "seconds", "S"};
inline constexpr Range millimetres{0, 1000, "millimetres", "MM"};
inline constexpr Range percent{0, 100, "percent", "PERCENT"};

std::optional<double> parse_number(const std::string& text);
CLI::Validator number_in(Range range);
CLI::Validator whole_from_to(std::uint32_t from, std::uint32_t to);

template <class T>
CLI::Option* add_number(CLI::App& app, const std::string& name, T& target, const std::string& help, Range range) {
  return app
      .add_option_function<std::string>(
          name, [&target](const std::string& text) { target = parse_number(text).value_or(0); }, help)
      ->check(number_in(range))
      ->type_name(range.type);
}
template <class T>
CLI::Option* add_count(CLI::App& app, const std::string& name, T& target, const std::string& help, std::uint32_t from,
                       std::uint32_t to) {
  return app.add_option(name, target, help)->check(whole_from_to(from, to))->type_name("N");
}
CLI::Option* add_date(CLI::App& app, const std::string& name, std::string& date, const std::string& help);
// The date to count from, for tests: not in help.
void add_today(CLI::App& app, std::string& today, const std::string& help);

void add_record_file(CLI::App& app, std::string& file);
void add_record_choice(CLI::App& app, RecordChoice& choice);
template <class T>
void add_lamp(CLI::App& app, T& lamp) {
  add_number(app, "--lamp-hours", lamp.lamp_hours, "Hours the lamp has run",
             {0, 1e6, "number of hours", "HOURS", true});
  add_number(app, "--lamp-power", lamp.lamp_power_percent, "Lamp power, percent", percent);
  add_number(app, "--irradiance", lamp.irradiance_mw_per_cm2, "Irradiance at the screen, mW/cm2",
             {0, 1e4, "mW/cm2", "mW/cm2"});
}
void add_temperature(CLI::App& app, std::optional<double>& resin_temp_c);

// How jobs are analysed, and from which verdict on the exit status is 1; unset: from none.
struct Judging {
  AnalyseSettings settings;
  std::optional<Verdict> fail_on = Verdict::hold;
  bool fails(Verdict verdict) const { return fail_on && verdict >= *fail_on; }
};
// Exposure, spread, lamp and all the rest that needs a record.
void add_judging(CLI::App& app, Judging& judging);
// The part of it that needs none.
void add_threads_and_fail_on(CLI::App& app, Judging& judging);

}  // namespace hairline::cli
