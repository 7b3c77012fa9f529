// queue: a night's jobs as one table.
#include <filesystem>
#include <fstream>

#include "checking.hpp"
#include "commands.hpp"
#include "find_jobs.hpp"
#include "interrupt.hpp"
#include "outputs.hpp"

namespace hairline::cli {

int run_queue(const QueueOptions& options, const Console& console) {
  const auto jobs = find_jobs(options.paths);
  if (!jobs) return fail(jobs.error());
  std::vector<std::string> inputs = *jobs;
  if (!options.record.record.empty()) inputs.push_back(options.record.record);
  const auto outputs = settle_in_folder(*jobs, options.json_folder, inputs);
  if (!outputs) return fail(outputs.error());
  const auto records = read_records(options.record);
  if (!records) return fail(records.error());
  const Checking checking{.records = &*records, .judging = options.judging, .sweep = {}};
  std::vector<QueueRow> rows;
  bool found = false, broken = false;
  for (std::size_t i = 0; i < jobs->size(); ++i) {
    const auto report = check_job((*jobs)[i], checking, console);
    if (progress().cancelled()) return fail(cancelled((*jobs)[i]));
    rows.push_back(report ? queue_row(*report) : queue_row((*jobs)[i], report.error()));
    broken = broken || !report;
    if (!report) continue;
    found = found || reaches(report->verdict, options.judging.fail_on);
    if (auto wrote = write_json_output((*outputs)[i].json, *report); !wrote) return fail(wrote.error());
  }
  if (auto printed = print(show_terminal(say_queue(rows, options.times), style_of(console))); !printed)
    return fail(printed.error());
  return broken ? status_not_checked : found ? status_found : status_fine;
}

}  // namespace hairline::cli
