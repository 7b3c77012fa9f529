#include "options.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <charconv>
#include <functional>
#include <map>

#include "hairline/record.hpp"

namespace hairline::cli {
namespace {

// ---- values ----

constexpr Range seconds{0, 3600, true, "s"};
constexpr Range millimetres{0, 1000, true, "mm"};
constexpr Range share{0, 1};

CLI::Validator number_in(Range range) {
  const auto check = [range](std::string& text) -> std::string {
    const auto value = parse_number(text);
    if (value && range.holds(*value)) return {};
    return fmt::format("\"{}\" does not fit; expected {}, written as 2.5", text, range.words());
  };
  return CLI::Validator(check, "");
}

CLI::Validator fitting(const FieldRule& rule) {
  const auto check = [rule](std::string& text) -> std::string {
    if (value_from(rule, text)) return {};
    return fmt::format("\"{}\" does not fit; expected {}", text, expected(rule));
  };
  return CLI::Validator(check, "");
}

// The option of a field; its text goes to `into`, once it fits.
void add_field(CLI::App& app, const FieldRule& rule, const std::function<void(const std::string&)>& into) {
  if (!*rule.option || app.get_option_no_throw(rule.option)) return;
  if (!*rule.value) {
    app.add_flag_callback(
        rule.option, [into, word = rule.words[0]] { into(word); }, rule.question);
    return;
  }
  app.add_option_function<std::string>(rule.option, into, rule.question)->check(fitting(rule))->type_name(rule.value);
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

CLI::Validator a_date() {
  const auto check = [](std::string& text) -> std::string {
    return text.size() == 10 && day_number(text) ? std::string()
                                                 : fmt::format("\"{}\" is no date; expected YYYY-MM-DD", text);
  };
  return CLI::Validator(check, "");
}

CLI::Validator a_clock() {
  const auto check = [](std::string& text) -> std::string {
    const auto clock = parse_clock(text);
    return clock ? std::string() : to_paragraph(clock.error());
  };
  return CLI::Validator(check, "");
}

template <class T>
CLI::Option* add_number(CLI::App& app, const std::string& name, T& target, const std::string& help, Range range) {
  return app
      .add_option_function<std::string>(
          name, [&target](const std::string& text) { target = parse_number(text).value_or(0); }, help)
      ->check(number_in(range));
}

CLI::Option* add_clock(CLI::App& app, const std::string& name, std::optional<ClockMin>& target,
                       const std::string& help) {
  return app
      .add_option_function<std::string>(
          name, [&target](const std::string& text) { target = parse_clock(text).value_or(0); }, help)
      ->check(a_clock())
      ->type_name("HH:MM");
}

// ---- options that several commands share ----

void add_outputs(CLI::App& app, Outputs& outputs) {
  app.add_option("--json", outputs.json, "Write the report as JSON (formats/preflight-report.md); - is stdout")
      ->type_name("FILE");
  app.add_option("--csv", outputs.csv, "Write the table of layers as CSV; - is stdout")->type_name("FILE");
  app.add_option_function<std::string>(
         "--details",
         [&outputs](const std::string& text) {
           outputs.details = text == "all" ? UINT32_MAX : static_cast<std::uint32_t>(std::stoul(text));
         },
         "How many entries of each list the terminal report shows: a number or all (default 10)")
      ->type_name("N|all")
      ->check(CLI::Validator(
          [](std::string& text) {
            std::string number = text;
            return text == "all" ? std::string() : whole_from_to(0, 1000000)(number);
          },
          ""));
}

void add_threads(CLI::App& app, Judging& judging) {
  app.add_option("--threads", judging.threads, "Threads to work with (default: one per processor)")
      ->type_name("N")
      ->check(whole_from_to(0, 1024));
}

void add_fail_on(CLI::App& app, Judging& judging) {
  static const std::map<std::string, FailOn> words = {
      {"clear", FailOn::clear}, {"caution", FailOn::caution}, {"hold", FailOn::hold}, {"never", FailOn::never}};
  app.add_option_function<std::string>(
         "--fail-on", [&judging](const std::string& word) { judging.fail_on = words.at(word); },
         "From which verdict on the exit status is 1: clear, caution, hold, never (default hold)")
      ->type_name("VERDICT")
      ->check(CLI::Validator(
          [](std::string& word) {
            return words.count(word) > 0
                       ? std::string()
                       : fmt::format("\"{}\" is no verdict; expected clear, caution, hold or never", word);
          },
          ""));
}

// What is true of lamp and vat tonight: facts of a record, by the same rules.
void add_tonight(CLI::App& app, JobContext& tonight) {
  const std::map<std::string_view, std::optional<double>*> into = {
      {"printer.lamp_hours", &tonight.lamp_hours},
      {"printer.lamp_power_percent", &tonight.lamp_power_percent},
      {"printer.irradiance_mw_per_cm2", &tonight.irradiance_mw_per_cm2},
      {"conditions.resin_temp_c", &tonight.resin_temp_c}};
  for (const FieldRule& fact : fact_fields)
    if (const auto at = into.find(fact.key); at != into.end())
      add_field(app, fact, [to = at->second](const std::string& text) { *to = parse_number(text); });
}

void add_judging(CLI::App& app, Judging& judging) {
  add_number(app, "--exposure", judging.exposure_s, "Judge at this normal exposure instead of the job's own, s",
             seconds)
      ->type_name("S");
  add_number(app, "--dose-spread", judging.dose_spread,
             "Spread of the dose from layer to layer and place to place, as a share (default 0.05)", share)
      ->type_name("SHARE");
  add_number(app, "--visible", judging.visible_mm,
             "How deep a loss has to be, in mm, to count as more than rounding (default 0.1)", millimetres)
      ->type_name("MM");
  add_tonight(app, judging.tonight);
  add_threads(app, judging);
  add_fail_on(app, judging);
  app.add_option("--today", judging.today, "Date the record's age is counted to")->check(a_date())->group("");
}

void add_record(CLI::App& app, RecordChoice& choice) {
  app.add_option("--record", choice.record,
                 "The resin record: a file, or the resin label of one in the folder of --records")
      ->type_name("FILE|LABEL");
  app.add_option("--records", choice.records,
                 "A folder of records (default: the current one); without --record the one that matches the\n"
                 "job's labels is taken")
      ->type_name("DIR")
      ->envname("HAIRLINE_RECORDS");
}

// ---- the commands ----

struct Parsed {
  std::optional<std::uint32_t> columns;
  CheckOptions check, measure, sweep;
  QueueOptions queue;
  DemoOptions demo;
  CouponOptions coupon;
  RecordNewOptions record_new;
  RecordReadOptions record_read;
  RecordFitOptions record_fit;
  RecordShowOptions record_show;
  RecordPlanOptions record_plan;
  std::vector<std::pair<CLI::App*, std::function<void(Options&)>>> chosen;
};

CLI::App& add_command(CLI::App& parent, const char* name, const char* help, const char* examples) {
  CLI::App& app = *parent.add_subcommand(name, help);
  app.footer(std::string("Examples:\n") + examples);
  return app;
}

void add_jobs(CLI::App& app, std::vector<std::string>& jobs) {
  app.add_option("job", jobs, "Layer archives: a ZIP or a folder with manifest.json")->required()->type_name("JOB");
}

void add_check(CLI::App& app, Parsed& parsed) {
  CLI::App& command = add_command(app, "check", "Say what a job will lose, at its time or at another",
                                  "  hairline check gallery.zip --record harbour-grey.json\n"
                                  "  hairline check gallery.zip --record harbour-grey.json --exposure 2.8\n"
                                  "  hairline check *.zip --records records --fail-on caution\n"
                                  "  hairline check gallery.zip --record harbour-grey.json --json - > report.json");
  add_jobs(command, parsed.check.jobs);
  add_record(command, parsed.check.record);
  add_judging(command, parsed.check.judging);
  add_outputs(command, parsed.check.outputs);
  parsed.chosen.emplace_back(&command, [&parsed](Options& options) { options.command = parsed.check; });
}

void add_measure(CLI::App& app, Parsed& parsed) {
  CLI::App& command =
      add_command(app, "measure", "Everything that needs no resin record: islands, base, thin places, resin",
                  "  hairline measure gallery.zip\n"
                  "  hairline measure gallery.zip --csv layers.csv");
  parsed.measure.kind = CheckKind::measure;
  add_jobs(command, parsed.measure.jobs);
  add_threads(command, parsed.measure.judging);
  add_fail_on(command, parsed.measure.judging);
  add_number(command, "--exposure", parsed.measure.judging.exposure_s,
             "Take this normal exposure instead of the job's own, s", seconds)
      ->type_name("S");
  add_outputs(command, parsed.measure.outputs);
  parsed.chosen.emplace_back(&command, [&parsed](Options& options) { options.command = parsed.measure; });
}

void add_sweep(CLI::App& app, Parsed& parsed) {
  CLI::App& command = add_command(app, "sweep", "Losses against exposure time, and the time that loses least",
                                  "  hairline sweep gallery.zip --record harbour-grey.json\n"
                                  "  hairline sweep gallery.zip --record harbour-grey.json --from 2 --to 3 --steps 21");
  parsed.sweep.kind = CheckKind::sweep;
  command
      .add_option_function<std::string>(
          "job", [&parsed](const std::string& job) { parsed.sweep.jobs = {job}; }, "The layer archive")
      ->required()
      ->type_name("JOB");
  add_record(command, parsed.sweep.record);
  add_number(command, "--from", parsed.sweep.sweep.from_s, "First exposure, s (default: the record's valid range)",
             seconds)
      ->type_name("S");
  add_number(command, "--to", parsed.sweep.sweep.to_s, "Last exposure, s", seconds)->type_name("S");
  command
      .add_option("--steps", parsed.sweep.sweep.steps,
                  "How many exposures, ends included (default: about 5 % apart, at most 13)")
      ->type_name("N")
      ->check(whole_from_to(2, 500));
  add_judging(command, parsed.sweep.judging);
  add_outputs(command, parsed.sweep.outputs);
  parsed.chosen.emplace_back(&command, [&parsed](Options& options) { options.command = parsed.sweep; });
}

void add_queue(CLI::App& app, Parsed& parsed) {
  CLI::App& command = add_command(app, "queue", "Check a night's jobs: one table, the sums, and when they are done",
                                  "  hairline queue tonight --record harbour-grey.json\n"
                                  "  hairline queue tonight.txt --records records --start 20:00 --ready-by 07:30\n"
                                  "  hairline queue tonight --record harbour-grey.json --json reports");
  command
      .add_option("path", parsed.queue.paths,
                  "Folders of layer archives, layer archives, or lists (.txt, one path per line)")
      ->required()
      ->type_name("PATH");
  add_record(command, parsed.queue.record);
  add_clock(command, "--start", parsed.queue.times.start, "When the first job starts");
  add_clock(command, "--ready-by", parsed.queue.times.ready_by, "When all should be done");
  command.add_option("--json", parsed.queue.json_folder, "A folder; each job's report is written into it as JSON")
      ->type_name("DIR");
  add_judging(command, parsed.queue.judging);
  parsed.chosen.emplace_back(&command, [&parsed](Options& options) { options.command = parsed.queue; });
}

void add_demo(CLI::App& app, Parsed& parsed) {
  CLI::App& command = add_command(app, "demo", "Write demo jobs and records of an invented harbour museum's workshop",
                                  "  hairline demo harbour\n"
                                  "  hairline check harbour/gallery-small.zip --record harbour/harbour-grey.json");
  command.add_option("folder", parsed.demo.folder, "Where to; made if missing")->required()->type_name("DIR");
  command.add_flag("--small", parsed.demo.small_only, "Leave out the night-long job");
  parsed.chosen.emplace_back(&command, [&parsed](Options& options) { options.command = parsed.demo; });
}

void add_coupon(CLI::App& app, Parsed& parsed) {
  CLI::App& command =
      add_command(app, "coupon", "Write the test piece: one layer archive per exposure, an STL, a reading sheet",
                  "  hairline coupon --pitch 0.05 --exposures 2.0,2.4,2.8 coupon\n"
                  "  hairline coupon --pitch 0.05 --exposures 2.4,2.8 --record harbour-grey.json coupon");
  CouponOptions& coupon = parsed.coupon;
  command.add_option("folder", coupon.folder, "Where to; made if missing")->required()->type_name("DIR");
  add_number(command, "--pitch", coupon.pitch_mm, "Pixel pitch of the printer, mm", millimetres)
      ->required()
      ->type_name("MM");
  add_number(command, "--pitch-y", coupon.pitch_y_mm, "Pitch along y, where it differs, mm", millimetres)
      ->type_name("MM");
  add_number(command, "--height", coupon.height_mm, "Layer height, mm (default 0.05)", millimetres)->type_name("MM");
  command
      .add_option_function<std::vector<std::string>>(
          "--exposures",
          [&coupon](const std::vector<std::string>& texts) {
            for (const std::string& text : texts) coupon.exposures_s.push_back(parse_number(text).value_or(0));
          },
          "Normal exposures to print, s")
      ->required()
      ->delimiter(',')
      ->type_name("S,S,...")
      ->check(number_in(seconds));
  add_number(command, "--base", coupon.base_s, "Base exposure, s (default 30)", seconds)->type_name("S");
  command.add_option("--base-layers", coupon.base_layers, "How many base layers (default 5)")
      ->check(whole_from_to(0, 40))
      ->type_name("N");
  command.add_option("--width-px", coupon.width_px, "Columns of the printer's image; the coupon is centred on it")
      ->check(whole_from_to(1, 65535))
      ->type_name("N");
  command.add_option("--height-px", coupon.height_px, "Rows of the printer's image")
      ->check(whole_from_to(1, 65535))
      ->type_name("N");
  command.get_option("--width-px")->needs(command.get_option("--height-px"));
  command.get_option("--height-px")->needs(command.get_option("--width-px"));
  command.add_option("--label", coupon.label, "Raised on the pad: capitals, digits, space, hyphen, full stop")
      ->type_name("TEXT");
  command.add_option("--resin", coupon.resin, "Label of the resin, for the manifest")->type_name("TEXT");
  command.add_option("--printer", coupon.printer, "Label of the printer, for the manifest")->type_name("TEXT");
  add_record(command, coupon.record);
  command.get_option("--record")
      ->description(
          "A record the resin already has (a file, or a resin label in the folder of --records): the wedges are\n"
          "drawn for its fitted blur, so that they read closer than those for a usual one");
  command.get_option("--records")->description("A folder of records (default: the current one)");
  parsed.chosen.emplace_back(&command, [&parsed](Options& options) { options.command = parsed.coupon; });
}

void add_record_file(CLI::App& command, std::string& file) {
  command.add_option("file", file, "The resin record")->required()->type_name("FILE");
}

void add_record_new(CLI::App& app, Parsed& parsed) {
  CLI::App& command =
      add_command(app, "new", "Start a record of one resin on one printer",
                  "  hairline record new harbour-grey.json --resin \"harbour grey\" --pitch 0.05 --height 0.05");
  RecordNewOptions& record = parsed.record_new;
  add_record_file(command, record.file);
  for (const auto& fact : fact_fields)
    add_field(command, fact,
              [&record, &fact](const std::string& text) { fact.set(record.facts, value_from(fact, text)); });
  command.add_flag("--replace", record.replace, "Replace a record that exists");
  parsed.chosen.emplace_back(&command, [&parsed](Options& options) { options.command = parsed.record_new; });
}

void add_record_read(CLI::App& app, Parsed& parsed) {
  CLI::App& command =
      add_command(app, "read", "Add what was read off a printed coupon",
                  "  hairline record read harbour-grey.json --exposure 2.5 --wall 0.08 --slot 0.11 --look crisp\n"
                  "  hairline record read harbour-grey.json --exposure 5 --cure-depth 0.31\n"
                  "  hairline record read harbour-grey.json --base 30 --base-layers 5 --base-result held\n"
                  "  hairline record read harbour-grey.json --csv readings.csv\n"
                  "  hairline record read harbour-grey.json          (asks, on a terminal)");
  RecordReadOptions& read = parsed.record_read;
  add_record_file(command, read.file);
  for (const FieldRule& rule : reading_rules())
    add_field(command, rule, [&read, key = rule.key](const std::string& text) { read.cells[key] = text; });
  command.add_option("--csv", read.csv, "Take the readings from a CSV file")->type_name("FILE");
  command.add_flag("--replace", read.replace,
                   "A reading that differs from an earlier one takes its place (the old one is kept)");
  command.add_option("--today", read.today, "Date of the reading")->check(a_date())->group("");
  parsed.chosen.emplace_back(&command, [&parsed](Options& options) { options.command = parsed.record_read; });
}

void add_record_commands(CLI::App& app, Parsed& parsed) {
  CLI::App& record = add_command(app, "record", "Make, read into, fit and show resin records",
                                 "  hairline record new harbour-grey.json --resin \"harbour grey\" --pitch 0.05\n"
                                 "  hairline record fit harbour-grey.json");
  record.require_subcommand(1);
  add_record_new(record, parsed);
  add_record_read(record, parsed);
  CLI::App& fit =
      add_command(record, "fit", "Fit the record to its readings", "  hairline record fit harbour-grey.json");
  add_record_file(fit, parsed.record_fit.file);
  fit.add_option("--today", parsed.record_fit.today, "Date of the fit")->check(a_date())->group("");
  parsed.chosen.emplace_back(&fit, [&parsed](Options& options) { options.command = parsed.record_fit; });
  CLI::App& show =
      add_command(record, "show", "Facts, fit, limit curves and residuals", "  hairline record show harbour-grey.json");
  add_record_file(show, parsed.record_show.file);
  show.add_option("--today", parsed.record_show.today, "Date the age is counted to")->check(a_date())->group("");
  parsed.chosen.emplace_back(&show, [&parsed](Options& options) { options.command = parsed.record_show; });
  CLI::App& plan = add_command(record, "plan", "The times whose readings would help most",
                               "  hairline record plan harbour-grey.json");
  add_record_file(plan, parsed.record_plan.file);
  plan.add_option("--times", parsed.record_plan.times, "How many times to propose (default 3)")
      ->check(whole_from_to(1, 10))
      ->type_name("N");
  parsed.chosen.emplace_back(&plan, [&parsed](Options& options) { options.command = parsed.record_plan; });
}

constexpr const char* purpose =
    "Hairline reads a sliced print job for a masked resin printer before the print starts, and says which fine "
    "details\n"
    "will not be there in the morning, which gaps will have closed, what will come loose, and which exposure is safer.";

constexpr const char* more =
    "Examples:\n"
    "  hairline demo harbour\n"
    "  hairline check harbour/gallery-small.zip --record harbour/harbour-grey.json\n"
    "  hairline check --help\n"
    "\n"
    "Exit status: 0 checked, and nothing at the --fail-on verdict (default hold); 1 checked, and something is;\n"
    "2 not checked: bad usage or input; 130 interrupted.";

void describe(CLI::App& app, Parsed& parsed) {
  app.description(purpose);
  app.footer(more);
  app.set_version_flag("--version", "hairline " HAIRLINE_VERSION);
  app.add_option("--columns", parsed.columns, "Width of the terminal")->check(whole_from_to(1, 100000))->group("");
  app.require_subcommand(1);
  app.fallthrough();
  add_check(app, parsed);
  add_measure(app, parsed);
  add_sweep(app, parsed);
  add_queue(app, parsed);
  add_coupon(app, parsed);
  add_record_commands(app, parsed);
  add_demo(app, parsed);
}

// CLI11 names the option in front of its message; several lines become one paragraph.
std::string one_line(std::string text) {
  for (char& c : text)
    if (c == '\n' || c == '\r') c = ' ';
  while (!text.empty() && (text.back() == ' ' || text.back() == '.')) text.pop_back();
  return text;
}

const CLI::App* innermost(const CLI::App& app) {
  const auto chosen = app.get_subcommands();
  return chosen.empty() ? &app : innermost(*chosen.front());
}

std::string path_of(const CLI::App& app) {
  return app.get_parent() == nullptr ? app.get_name() : path_of(*app.get_parent()) + " " + app.get_name();
}

}  // namespace

Result<Options> read_options(int argc, const char* const* argv) {
  Parsed parsed;
  CLI::App app("", "hairline");
  describe(app, parsed);
  Options options;
  const auto answer = [&](std::string text) {
    options.command = Answer{std::move(text)};
    return options;
  };
  try {
    app.parse(argc, argv);
  } catch (const CLI::CallForHelp&) {
    return answer(app.help());
  } catch (const CLI::CallForAllHelp&) {
    return answer(app.help("", CLI::AppFormatMode::All));
  } catch (const CLI::CallForVersion& version) {
    return answer(std::string(version.what()) + "\n");
  } catch (const CLI::ParseError& error) {
    return tl::unexpected(Error{.kind = ErrorKind::usage,
                                .file = {},
                                .layer = {},
                                .found = one_line(error.what()),
                                .expected = {},
                                .advice = "See `" + path_of(*innermost(app)) + " --help`."});
  }
  options.columns = parsed.columns;
  for (const auto& [command, choose] : parsed.chosen)
    if (command->parsed()) choose(options);
  return options;
}

}  // namespace hairline::cli
