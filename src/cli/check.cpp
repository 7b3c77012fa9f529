// check, measure, sweep: one report per job.
#include <fmt/format.h>

#include "checking.hpp"
#include "commands.hpp"
#include "interrupt.hpp"
#include "outputs.hpp"

namespace hairline::cli {
namespace {

std::vector<std::string> inputs_of(const CheckOptions& options) {
  std::vector<std::string> inputs = options.jobs;
  if (!options.record.record.empty()) inputs.push_back(options.record.record);
  return inputs;
}

std::string terminal_text(const CheckOptions& options, const Report& report, const Console& console) {
  const TerminalStyle style = style_of(console, options.outputs.details);
  return show_terminal(options.kind == CheckKind::sweep ? say_sweep(report) : say_report(report, style), style);
}

Result<void> tell(const CheckOptions& options, const Report& report, const JobOutputs& outputs, const Console& console,
                  bool first) {
  const std::string csv = outputs.csv.empty()                ? ""
                          : options.kind == CheckKind::sweep ? to_sweep_csv(report)
                                                             : to_csv(report);
  if (auto wrote = write_json_output(outputs.json, report); !wrote) return wrote;
  if (auto wrote = write_output(outputs.csv, csv); !wrote) return wrote;
  if (outputs.json == "-" || outputs.csv == "-") return {};
  return print(fmt::format("{}{}", first ? "" : "\n\n", terminal_text(options, report, console)));
}

}  // namespace

bool reaches(Verdict verdict, FailOn level) {
  switch (level) {
    case FailOn::clear:
      return true;
    case FailOn::caution:
      return verdict != Verdict::clear;
    case FailOn::hold:
      return verdict == Verdict::hold;
    case FailOn::never:
      return false;
  }
  return true;
}

int run_check(const CheckOptions& options, const Console& console) {
  const auto outputs = settle_outputs(options.jobs, options.outputs.json, options.outputs.csv, inputs_of(options));
  if (!outputs) return fail(outputs.error());
  Records records;
  Checking checking{.records = nullptr, .judging = options.judging, .sweep = options.sweep};
  if (options.kind != CheckKind::measure) {
    auto read = read_records(options.record);
    if (!read) return fail(read.error());
    records = std::move(*read);
    checking.records = &records;
  }
  int status = status_fine;
  for (std::size_t i = 0; i < options.jobs.size(); ++i) {
    const auto report = check_job(options.jobs[i], checking, console);
    if (progress().cancelled()) return fail(cancelled(options.jobs[i]));
    if (!report) {
      status = fail(report.error());
      continue;
    }
    if (auto told = tell(options, *report, (*outputs)[i], console, i == 0); !told) return fail(told.error());
    if (status == status_fine && reaches(report->verdict, options.judging.fail_on)) status = status_found;
  }
  return status;
}

}  // namespace hairline::cli
