#include "options.hpp"

#include <fmt/format.h>

#include <charconv>
#include <cmath>
#include <map>

namespace hairline::cli {

std::optional<double> parse_number(const std::string& text) {
  double value = 0;
  const char* end = text.data() + text.size();
  const auto [stop, error] = std::from_chars(text.data(), end, value);
  if (error != std::errc() || stop != end || !std::isfinite(value)) return {};
  return value;
}

CLI::Validator number_in(Range range) {
  const auto check = [range](std::string& text) -> std::string {
    const auto value = parse_number(text);
    const bool fits =
        value && *value <= range.up_to && (*value > range.above || (range.with_lower_end && *value == range.above));
    if (fits) return {};
    return fmt::format("\"{}\" does not fit; expected {} {} {:g}, up to {:g}, written as 2.5", text, range.unit,
                       range.with_lower_end ? "from" : "above", range.above, range.up_to);
  };
  return CLI::Validator(check, "");
}

CLI::Validator whole_from_to(std::uint32_t from, std::uint32_t to) {
  const auto check = [from, to](std::string& text) -> std::string {
    std::uint32_t value = 0;
    const char* end = text.data() + text.size();
    const auto [stop, error] = std::from_chars(text.data(), end, value);
    if (error == std::errc() && stop == end && value >= from && value <= to) return {};
    return fmt::format("\"{}\" does not fit; expected a whole number from {} to {}", text, from, to);
  };
  return CLI::Validator(check, "");
}

CLI::Option* add_date(CLI::App& app, const std::string& name, std::string& date, const std::string& help) {
  const auto check = [](std::string& text) -> std::string {
    return text.size() == 10 && day_number(text) ? std::string()
                                                 : fmt::format("\"{}\" is no date; expected YYYY-MM-DD", text);
  };
  return app.add_option(name, date, help)->check(CLI::Validator(check, ""))->type_name("DATE");
}

void add_today(CLI::App& app, std::string& today, const std::string& help) {
  add_date(app, "--today", today, help)->group("");
}

void add_record_file(CLI::App& app, std::string& file) {
  app.add_option("file", file, "The resin record")->required()->type_name("FILE");
}

void add_record_choice(CLI::App& app, RecordChoice& choice) {
  app.add_option("--record", choice.record,
                 "The resin record: a file, or the resin label of one in the folder of --records")
      ->type_name("FILE|LABEL");
  app.add_option("--records", choice.records,
                 "A folder of records (default: the current one); without --record the one that matches the job's "
                 "labels is taken")
      ->type_name("DIR")
      ->envname("HAIRLINE_RECORDS");
}

void add_temperature(CLI::App& app, std::optional<double>& resin_temp_c) {
  add_number(app, "--temperature", resin_temp_c, "Temperature of the resin, degrees C",
             {0, 100, "degrees C", "DEGREES", true});
}

void add_threads_and_fail_on(CLI::App& app, Judging& judging) {
  static const std::map<std::string, std::optional<Verdict>> words = {
      {"clear", Verdict::clear}, {"caution", Verdict::caution}, {"hold", Verdict::hold}, {"never", {}}};
  add_count(app, "--threads", judging.settings.threads, "Threads to work with (default: one per processor)", 0, 1024);
  const auto check = [](std::string& word) {
    return words.count(word) > 0 ? std::string()
                                 : fmt::format("\"{}\" is no verdict; expected clear, caution, hold or never", word);
  };
  app.add_option_function<std::string>(
         "--fail-on", [&judging](const std::string& word) { judging.fail_on = words.at(word); },
         "From which verdict on the exit status is 1 (default hold)")
      ->type_name("clear|caution|hold|never")
      ->check(CLI::Validator(check, ""));
}

void add_judging(CLI::App& app, Judging& judging) {
  AnalyseSettings& settings = judging.settings;
  add_number(app, "--exposure", settings.exposure_s, "Judge at this normal exposure instead of the job's own, s",
             seconds);
  add_number(app, "--dose-spread", settings.risk.dose_spread,
             "Spread of the dose from layer to layer and place to place, as a share (default 0.05)",
             {0, 1, "share", "SHARE", true});
  add_number(app, "--visible", settings.risk.visible_mm,
             "How deep a loss has to be, in mm, to count as more than rounding (default 0.1)", millimetres);
  add_lamp(app, settings.tonight);
  add_temperature(app, settings.tonight.resin_temp_c);
  add_threads_and_fail_on(app, judging);
  add_today(app, settings.tonight.today, "Date the record's age is counted to");
}

}  // namespace hairline::cli
