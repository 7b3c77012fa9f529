// queue: a night's jobs as one table.
#include "hairline/queue.hpp"

#include <filesystem>

#include "commands.hpp"
#include "hairline/record_edit.hpp"
#include "options.hpp"
#include "outputs.hpp"
#include "progress_bar.hpp"

namespace hairline::cli {
namespace {

struct Options {
  std::vector<std::string> paths;
  RecordChoice record;
  Opening opening;
  Judging judging;
  QueueTimes times;
  std::string json_folder;
};

int run(const Options& options, const Context& context) {
  const auto jobs = find_jobs(options.paths);
  if (!jobs) return fail(jobs.error());
  std::vector<std::string> inputs = files_read(*jobs, options.opening, &options.record);
  std::error_code error;
  for (const std::string& path : options.paths)  // lists; folders hold the jobs, and may hold their reports
    if (!std::filesystem::is_directory(path, error)) inputs.push_back(path);
  const auto outputs = settle_outputs(*jobs, {.json = options.json_folder, .csv = {}}, true, inputs);
  if (!outputs) return fail(outputs.error());
  const auto records = read_records(options.record);
  if (!records) return fail(records.error());
  auto open = open_options(options.opening, options.judging.settings.exposure_s, context.command);
  if (!open) return fail(open.error());
  CheckRequest request{.job = {}, .open = std::move(*open), .records = &*records, .settings = options.judging.settings};
  request.settings.tonight.today = date_or_today(request.settings.tonight.today);
  std::vector<QueueRow> rows;
  bool found = false, broken = false;
  for (std::size_t i = 0; i < jobs->size(); ++i) {
    request.job = (*jobs)[i];
    const auto report = with_bar(context, std::filesystem::path(request.job).filename().string(),
                                 [&] { return check_job(request, context.progress); });
    if (context.progress.cancelled()) return fail(cancelled(request.job));
    rows.push_back(report ? queue_row(*report) : queue_row(request.job, report.error()));
    broken = broken || !report;
    if (!report) continue;
    if (report->record) note_use(user_uses(), report->record->file, request.settings.tonight.today);
    found = found || options.judging.fails(report->verdict);
    if (auto wrote = write_json_output((*outputs)[i].json, *report); !wrote) return fail(wrote.error());
  }
  if (auto printed = print(show_terminal(say_queue(rows, options.times), style_of(context.console))); !printed)
    return fail(printed.error());
  return broken ? status_not_checked : found ? status_found : status_fine;
}

void add_clock(CLI::App& app, const std::string& name, std::optional<ClockMin>& target, const std::string& help) {
  const auto check = [](std::string& text) {
    const auto clock = parse_clock(text);
    return clock ? std::string() : to_paragraph(clock.error());
  };
  app.add_option_function<std::string>(
         name, [&target](const std::string& text) { target = parse_clock(text).value_or(0); }, help)
      ->check(CLI::Validator(check, ""))
      ->type_name("HH:MM");
}

}  // namespace

void add_queue(CLI::App& app, Context& context) {
  CLI::App& command = add_command(app, "queue", "Check a night's jobs: one table, the sums, and when they are done",
                                  "  hairline queue tonight --record harbour-grey.json\n"
                                  "  hairline queue tonight.txt --records records --start 20:00 --ready-by 07:30\n"
                                  "  hairline queue tonight --record harbour-grey.json --json reports");
  Options& options = options_of(command, context, run);
  command
      .add_option("path", options.paths,
                  "Folders of layer archives, layer archives, or lists (.txt, one path per line)")
      ->required()
      ->type_name("PATH");
  add_opening(command, options.opening);
  add_record_choice(command, options.record);
  add_clock(command, "--start", options.times.start, "When the first job starts");
  add_clock(command, "--ready-by", options.times.ready_by, "When all should be done");
  add_output(command, "--json", options.json_folder, "A folder; each job's report is written into it as JSON", "DIR");
  add_judging(command, options.judging);
}

}  // namespace hairline::cli
