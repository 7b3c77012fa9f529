// Options as building blocks: kinds of values, and the groups that several commands share.
#pragma once
#include <CLI/CLI.hpp>
#include <charconv>
#include <functional>

#include "../calibrate/reading_fields.hpp"
#include "hairline/check.hpp"

namespace hairline::cli {

// What a number may be, and what help shows for it.
struct Amount {
  Range range;
  const char* type;
};
inline constexpr Amount seconds{{0, 3600, true, "s"}, "S"};
inline constexpr Amount millimetres{{0, 1000, true, "mm"}, "MM"};

CLI::Validator number_in(const Range& range);
// What was typed, once it was found to be a number of this range.
double number_of(const std::string& text, const Range& range);
CLI::Validator whole_from_to(std::uint32_t from, std::uint32_t to);

template <class T>
CLI::Option* add_number(CLI::App& app, const std::string& name, T& target, const std::string& help,
                        const Amount& amount) {
  return app
      .add_option_function<std::string>(
          name, [&target, range = amount.range](const std::string& text) { target = number_of(text, range); }, help)
      ->check(number_in(amount.range))
      ->type_name(amount.type);
}
// In decimal digits also where it begins with a zero, which CLI11 takes for a number in octal.
template <class T>
CLI::Option* add_count(CLI::App& app, const std::string& name, T& target, const std::string& help, std::uint32_t from,
                       std::uint32_t to) {
  const auto read = [&target](const std::string& text) {
    std::from_chars(text.data(), text.data() + text.size(), target);
  };
  return app.add_option_function<std::string>(name, read, help)->check(whole_from_to(from, to))->type_name("N");
}
// An option whose text is read by `parse`, which says what is wrong with it.
template <class T>
CLI::Option* add_parsed(CLI::App& app, const std::string& name, T& target, auto parse, const char* type,
                        const std::string& help) {
  const auto check = [parse](std::string& text) {
    const auto value = parse(text);
    return value ? std::string() : to_paragraph(value.error());
  };
  return app
      .add_option_function<std::string>(
          name, [&target, parse](const std::string& text) { target = *parse(text); }, help)
      ->check(CLI::Validator(check, ""))
      ->type_name(type);
}
CLI::Option* add_date(CLI::App& app, const std::string& name, std::string& date, const std::string& help);
// The date to count from, for tests: not in help.
void add_today(CLI::App& app, std::string& today, const std::string& help);

void add_record_file(CLI::App& app, std::string& file);
void add_record_choice(CLI::App& app, RecordChoice& choice);
// The option of a field of a reading or a record; its text goes to `into`, once it fits.
void add_field(CLI::App& app, const FieldRule& rule, const std::function<void(const std::string&)>& into);

// What is typed of archives that do not say it themselves.
struct Opening {
  std::vector<std::string> set;  // PATH=VALUE, checked
  std::string description, descriptions;
  std::uint32_t memory_mb = 0;  // 0: as much as is usual
};
void add_opening(CLI::App& app, Opening& opening);
// An option of it for settings that are one to a person.
void add_setting(CLI::App& app, Opening& opening, const char* name, const Amount& amount,
                 const std::vector<const char*>& paths, const char* help);
// All files that may be read: the jobs, the descriptions, and the record of a choice, or all records of its folder.
std::vector<std::string> files_read(std::vector<std::string> jobs, const Opening& opening,
                                    const RecordChoice* records = nullptr);
// Reads the descriptions that were named, or else those of the person's own folder. Fails as that does.
Result<OpenOptions> open_options(const Opening& opening, std::optional<double> exposure_s, const std::string& command);

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
void add_fail_on(CLI::App& app, Judging& judging);

}  // namespace hairline::cli
