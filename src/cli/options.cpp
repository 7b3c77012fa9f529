#include "options.hpp"

#include <fmt/format.h>

#include <charconv>
#include <filesystem>
#include <map>

#include "../base/json_files.hpp"
#include "commands.hpp"
#include "hairline/record_edit.hpp"

namespace hairline::cli {

double number_of(const std::string& text, const Range& range) {
  return typed_number(text, range).value.value_or(0);
}

CLI::Validator number_in(const Range& range) {
  const auto check = [range](std::string& text) -> std::string {
    const auto value = typed_number(text, range).value;
    if (value && range.holds(*value)) return {};
    return fmt::format("{} does not fit; expected {}", quoted(text, range), range.words());
  };
  return CLI::Validator(check, "");
}

void add_field(CLI::App& app, const FieldRule& rule, const std::function<void(const std::string&)>& into) {
  if (!*rule.option || app.get_option_no_throw(rule.option)) return;
  if (!*rule.value) {
    app.add_flag_callback(
        rule.option, [into, word = rule.words[0]] { into(word); }, rule.question);
    return;
  }
  const auto check = [rule](std::string& text) -> std::string { return misfit(rule, text, ResinRecord{}); };
  const char* also = rule.several ? "; of x, y and slanted: \"0.08 0.09 0.085\"" : "";
  app.add_option_function<std::string>(rule.option, into, fmt::format("{}{}", rule.question, also))
      ->check(CLI::Validator(check, ""))
      ->type_name(rule.words.empty() ? rule.value : fmt::format("{}", fmt::join(rule.words, "|")));
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

void add_setting(CLI::App& app, Opening& opening, const char* name, const Amount& amount,
                 const std::vector<const char*>& paths, const char* help) {
  const auto set = [&opening, paths, range = amount.range](const std::string& text) {
    for (const char* path : paths) opening.set.push_back(fmt::format("{}={}", path, number_of(text, range)));
  };
  app.add_option_function<std::string>(name, set, help)->check(number_in(amount.range))->type_name(amount.type);
}

void add_opening(CLI::App& app, Opening& opening) {
  app.option_defaults()->group("Of archives that do not say it themselves, or say it wrongly");
  const Amount fine_mm{{0, 1, true, "mm"}, "MM"};
  add_setting(app, opening, "--pitch", fine_mm, {"image.pitch_x_mm", "image.pitch_y_mm"},
              "Pixel pitch of the masks, mm");
  add_setting(app, opening, "--height", fine_mm, {"layers.height_mm"}, "Layer height, mm");
  add_setting(app, opening, "--base", seconds, {"exposure.base_s"}, "Base exposure, s");
  add_setting(app, opening, "--base-layers", {{0, 100000}, "N"}, {"exposure.base_layers"}, "How many base layers");
  const auto check = [](std::string& text) {
    const auto setting = parse_setting(text);
    return setting ? std::string() : to_paragraph(setting.error());
  };
  app.add_option_function<std::vector<std::string>>(
         "--set",
         [&opening](const std::vector<std::string>& all) {
           opening.set.insert(opening.set.end(), all.begin(), all.end());
         },
         "Any other setting of formats/layer-archive.md, or of how masks are read; may be repeated")
      ->type_name("PATH=VALUE")
      ->expected(1)
      ->take_all()
      ->trigger_on_parse(false)
      ->check(CLI::Validator(check, ""));
  app.add_option("--description", opening.description, "An archive description: how to read the archive")
      ->type_name("FILE");
  app.add_option("--descriptions", opening.descriptions,
                 "A folder of descriptions to try (default: hairline/descriptions in the user's config folder)")
      ->type_name("DIR")
      ->envname("HAIRLINE_DESCRIPTIONS");
  app.option_defaults()->group("Options");
  add_count(app, "--memory", opening.memory_mb,
            "Memory to take at most, MB (default: half of what there is, and no more than a print should need)", 64,
            100'000'000)
      ->type_name("MB");
}

namespace {

namespace fs = std::filesystem;

fs::path descriptions_folder(const Opening& opening) {
  return opening.descriptions.empty() ? user_descriptions() : fs::path(opening.descriptions);
}

void add_descriptions(const Opening& opening, std::vector<std::string>& files) {
  if (!opening.description.empty()) return files.push_back(opening.description);
  if (const auto known = json_files_in(descriptions_folder(opening), {}))
    for (const fs::path& file : *known) files.push_back(file.string());
}

void add_records(const RecordChoice& choice, std::vector<std::string>& files) {
  std::error_code error;
  if (fs::is_regular_file(choice.record, error)) return files.push_back(choice.record);
  const std::string& folder = fs::is_directory(choice.record, error) ? choice.record : choice.records;
  if (const auto records = find_records(folder.empty() ? "." : folder))
    for (const FoundRecord& record : *records) files.push_back(record.file);
}

}  // namespace

std::vector<std::string> files_read(std::vector<std::string> jobs, const Opening& opening,
                                    const RecordChoice* records) {
  add_descriptions(opening, jobs);
  if (records != nullptr) add_records(*records, jobs);
  return jobs;
}

Result<OpenOptions> open_options(const Opening& opening, std::optional<double> exposure_s, const std::string& command) {
  OpenOptions out;
  out.command = command;
  if (opening.memory_mb > 0) out.limits.memory_bytes = std::uint64_t{opening.memory_mb} * 1'000'000;
  for (const std::string& text : opening.set) {
    auto setting = parse_setting(text);
    if (!setting) return tl::unexpected(std::move(setting.error()));
    out.set.push_back(std::move(*setting));
  }
  if (exposure_s) out.otherwise.push_back({"exposure.normal_s", fmt::format("{}", *exposure_s)});
  if (!opening.description.empty()) {
    auto description = read_description(opening.description);
    if (!description) return tl::unexpected(std::move(description.error()));
    out.description = std::move(*description);
    return out;
  }
  if (!opening.descriptions.empty())  // what is named has to be there
    if (const auto named = json_files_in(opening.descriptions, "a folder of descriptions"); !named)
      return tl::unexpected(named.error());
  auto known = read_descriptions(descriptions_folder(opening));
  if (!known) return tl::unexpected(std::move(known.error()));
  out.known = std::move(*known);
  return out;
}

namespace {

// What is true of lamp and vat tonight: facts of a record, by the same rules.
void add_tonight(CLI::App& app, JobContext& tonight) {
  const std::map<std::string_view, std::optional<double>*> into = {
      {"printer.lamp_hours", &tonight.lamp_hours},
      {"printer.lamp_power_percent", &tonight.lamp_power_percent},
      {"printer.irradiance_mw_per_cm2", &tonight.irradiance_mw_per_cm2},
      {"conditions.resin_temp_c", &tonight.resin_temp_c}};
  for (const FieldRule& fact : fact_fields)
    if (const auto at = into.find(fact.key); at != into.end())
      add_field(app, fact,
                [to = at->second, range = fact.range](const std::string& text) { *to = number_of(text, range); });
}

Result<std::optional<Verdict>> parse_fail_on(const std::string& word) {
  if (word == "never") return std::nullopt;
  for (const Verdict verdict : {Verdict::clear, Verdict::caution, Verdict::hold})
    if (word == to_string(verdict)) return verdict;
  return tl::unexpected(usage(fmt::format("\"{}\" is no verdict", word), "clear, caution, hold or never", ""));
}

}  // namespace

void add_fail_on(CLI::App& app, Judging& judging) {
  add_parsed(app, "--fail-on", judging.fail_on, parse_fail_on, "clear|caution|hold|never",
             "From which verdict on the exit status is 1 (default hold)");
}

void add_threads_and_fail_on(CLI::App& app, Judging& judging) {
  add_count(app, "--threads", judging.settings.threads, "Threads to work with (default: one per processor)", 0, 1024);
  add_fail_on(app, judging);
}

void add_judging(CLI::App& app, Judging& judging) {
  AnalyseSettings& settings = judging.settings;
  add_number(app, "--exposure", settings.exposure_s,
             "Judge at this normal exposure instead of the job's own, s; of archives that state none it is that",
             seconds);
  add_number(app, "--dose-spread", settings.risk.dose_spread,
             "Spread of the dose from layer to layer and place to place, as a share (default 0.05)", {{0, 1}, "SHARE"});
  add_number(app, "--visible", settings.risk.visible_mm,
             "How deep a loss has to be, in mm, to count as more than rounding (default 0.1)", millimetres);
  add_tonight(app, settings.tonight);
  add_threads_and_fail_on(app, judging);
  add_today(app, settings.tonight.today, "Date the record's age is counted to");
}

}  // namespace hairline::cli
