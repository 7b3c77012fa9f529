// check, measure, sweep: one report per job.
#include <fmt/format.h>

#include <filesystem>

#include "commands.hpp"
#include "hairline/page.hpp"
#include "hairline/record_edit.hpp"
#include "options.hpp"
#include "outputs.hpp"
#include "progress_bar.hpp"

namespace hairline::cli {
namespace {

enum class Kind : std::uint8_t { check, measure, sweep };
struct Options {
  Kind kind = Kind::check;
  std::vector<std::string> jobs;
  RecordChoice record;
  Opening opening;
  Judging judging;
  JobOutputs outputs;
  std::uint32_t details = 10;
};

std::string terminal_text(const Options& options, const Report& report, const Console& console) {
  const TerminalStyle style = style_of(console, options.details);
  return show_terminal(options.kind == Kind::sweep ? say_sweep(report) : say_report(report, style), style);
}

Result<void> tell_report(const Options& options, const Report& report, const Pictures& pictures,
                         const JobOutputs& outputs, const Console& console, bool first) {
  const std::string csv = outputs.csv.empty()           ? ""
                          : options.kind == Kind::sweep ? to_sweep_csv(report)
                                                        : to_csv(report);
  if (auto wrote = write_json_output(outputs.json, report); !wrote) return wrote;
  if (auto wrote = write_output(outputs.csv, csv); !wrote) return wrote;
  if (!outputs.html.empty())
    if (auto wrote = write_output(outputs.html, show_html({report, &pictures})); !wrote) return wrote;
  if (outputs.json == "-" || outputs.csv == "-" || outputs.html == "-") return {};
  return print(fmt::format("{}{}", first ? "" : "\n\n", terminal_text(options, report, console)));
}

int run(const Options& options, const Context& context) {
  const auto inputs =
      files_read(options.jobs, options.opening, options.kind == Kind::measure ? nullptr : &options.record);
  const auto outputs = settle_outputs(options.jobs, options.outputs, options.jobs.size() > 1, inputs);
  if (!outputs) return fail(outputs.error());
  auto open = open_options(options.opening, options.judging.settings.exposure_s, context.command);
  if (!open) return fail(open.error());
  CheckRequest request{.job = {}, .open = std::move(*open), .records = nullptr, .settings = options.judging.settings};
  request.settings.tonight.today = date_or_today(request.settings.tonight.today);
  const auto records = options.kind == Kind::measure ? Records{} : read_records(options.record, options.jobs);
  if (!records) return fail(records.error());
  if (options.kind != Kind::measure) request.records = &*records;
  int status = status_fine;
  for (std::size_t i = 0; i < options.jobs.size(); ++i) {
    request.job = options.jobs[i];
    Pictures pictures;
    const auto report = with_bar(context, std::filesystem::path(request.job).filename().string(), [&] {
      return check_job(request, context.progress, options.outputs.html.empty() ? nullptr : &pictures);
    });
    if (context.progress.cancelled()) return fail(cancelled(request.job));
    if (!report) {
      status = fail(report.error());
      continue;
    }
    if (report->record) note_use(user_uses(), report->record->file, request.settings.tonight.today);
    if (auto told = tell_report(options, *report, pictures, (*outputs)[i], context.console, i == 0); !told)
      return fail(told.error());
    if (status == status_fine && options.judging.fails(report->verdict)) status = status_found;
  }
  return status;
}

void add_jobs(CLI::App& app, Options& options) {
  app.add_option("job", options.jobs, "Layer archives, or any ZIP or folder of masks")->required()->type_name("JOB");
  add_opening(app, options.opening);
}

void add_outputs(CLI::App& app, Options& options) {
  add_output(app, "--json", options.outputs.json,
             "Write the report as JSON (formats/preflight-report.md); - is stdout");
  add_output(app, "--html", options.outputs.html, "Write a page to look at (docs/page.md); - is stdout");
  add_output(app, "--csv", options.outputs.csv, "Write the table of layers as CSV; - is stdout");
  const auto read = [&options](const std::string& text) {
    options.details = text == "all" ? UINT32_MAX : static_cast<std::uint32_t>(std::stoul(text));
  };
  const auto check = [](std::string& text) {
    std::string number = text;
    return text == "all" ? std::string() : whole_from_to(0, 1000000)(number);
  };
  app.add_option_function<std::string>(
         "--details", read, "How many entries of each list the terminal report shows: a number or all (default 10)")
      ->type_name("N|all")
      ->check(CLI::Validator(check, ""));
}

}  // namespace

void add_check(CLI::App& app, Context& context) {
  CLI::App& command =
      add_command(app, "check", "Say what a job will lose, at its time or at another",
                  "  hairline check gallery.zip --record harbour-grey.json\n"
                  "  hairline check gallery.zip --record harbour-grey.json --exposure 2.8\n"
                  "  hairline check gallery.zip --record harbour-grey.json --html report.html\n"
                  "  hairline check own.zip --pitch 0.05 --height 0.05 --exposure 2.5 --record grey.json\n"
                  "  hairline check *.zip --records records --fail-on caution\n"
                  "  hairline check gallery.zip --record harbour-grey.json --json - > report.json");
  Options& options = options_of(command, context, run);
  add_jobs(command, options);
  add_record_choice(command, options.record);
  add_judging(command, options.judging);
  add_outputs(command, options);
}

void add_measure(CLI::App& app, Context& context) {
  CLI::App& command =
      add_command(app, "measure", "Everything that needs no resin record: islands, base, thin places, resin",
                  "  hairline measure gallery.zip\n"
                  "  hairline measure gallery.zip --csv layers.csv");
  Options& options = options_of(command, context, run);
  options.kind = Kind::measure;
  add_jobs(command, options);
  add_threads_and_fail_on(command, options.judging);
  add_number(command, "--exposure", options.judging.settings.exposure_s,
             "Take this normal exposure instead of the job's own, s", seconds);
  add_outputs(command, options);
}

void add_sweep(CLI::App& app, Context& context) {
  CLI::App& command = add_command(app, "sweep", "Losses against exposure time, and the time that loses least",
                                  "  hairline sweep gallery.zip --record harbour-grey.json\n"
                                  "  hairline sweep gallery.zip --record harbour-grey.json --from 2 --to 3 --steps 21");
  Options& options = options_of(command, context, run);
  options.kind = Kind::sweep;
  command
      .add_option_function<std::string>(
          "job", [&options](const std::string& job) { options.jobs = {job}; }, "The layer archive")
      ->required()
      ->type_name("JOB");
  add_opening(command, options.opening);
  add_record_choice(command, options.record);
  SweepSettings& sweep = options.judging.settings.sweep;
  add_number(command, "--from", sweep.from_s, "First exposure, s (default: the record's valid range)", seconds);
  add_number(command, "--to", sweep.to_s, "Last exposure, s", seconds);
  add_count(command, "--steps", sweep.steps, "How many exposures, ends included (default: about 5 % apart, at most 13)",
            2, most_sweep_steps);
  add_judging(command, options.judging);
  add_outputs(command, options);
}

}  // namespace hairline::cli
