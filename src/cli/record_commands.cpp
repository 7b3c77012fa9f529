// record new, read, fit, show, plan.
#include <filesystem>

#include "commands.hpp"
#include "hairline/files.hpp"
#include "hairline/record_report.hpp"
#include "hairline/records.hpp"
#include "readings.hpp"

namespace hairline::cli {
namespace {

int tell(const std::string& text) {
  const auto printed = print(text);
  return printed ? status_fine : fail(printed.error());
}

Result<std::vector<AnyReading>> readings_of_file(const std::string& path) {
  const auto text = read_text(path, 1u << 20);
  if (!text) return tl::unexpected(text.error());
  return parse_readings_csv(*text, path);
}

Error no_reading() {
  return {.kind = ErrorKind::usage,
          .file = {},
          .layer = {},
          .found = "no reading was given",
          .expected = "--exposure with sizes, a look or a cure depth; --base with its result; or --csv FILE",
          .advice = "See `hairline record read --help`."};
}

}  // namespace

int run_record_new(const RecordNewOptions& options, const Console&) {
  std::error_code error;
  if (!options.replace && std::filesystem::exists(options.file, error))
    return fail({.kind = ErrorKind::usage,
                 .file = options.file,
                 .layer = {},
                 .found = "there is already such a file",
                 .expected = "a new one",
                 .advice = "Choose another name, or say --replace."});
  const auto record = new_record(options.facts, date_or_today(""));
  if (!record) return fail(record.error());
  if (auto saved = save_record(*record, options.file); !saved) return fail(saved.error());
  return tell(visible(options.file) + "\n");
}

int run_record_read(const RecordReadOptions& options, const Console& console) {
  auto record = read_record(options.file);
  if (!record) return fail(record.error());
  if (auto writable = check_writable(options.file); !writable) return fail(writable.error());
  auto readings = options.csv.empty() ? readings_from_options(options.cells) : readings_of_file(options.csv);
  if (readings && readings->empty() && console.questions) readings = readings_from_answers();
  if (readings && readings->empty()) readings = tl::unexpected(no_reading());
  if (!readings) return fail(readings.error());
  const auto changed = add_readings(*record, *readings, date_or_today(options.today),
                                    options.replace ? IfThere::replace : IfThere::keep);
  if (!changed) return fail(changed.error());
  if (*changed > 0)
    if (auto saved = save_record(*record, options.file); !saved) return fail(saved.error());
  return tell(show_terminal(say_reading(*record, *changed), style_of(console)));
}

int run_record_fit(const RecordFitOptions& options, const Console& console) {
  auto record = read_record(options.file);
  if (!record) return fail(record.error());
  if (auto writable = check_writable(options.file); !writable) return fail(writable.error());
  const auto fitted = fit_record(*record);
  if (!fitted) return fail(fitted.error());
  apply_fit(*record, *fitted, date_or_today(options.today));
  if (auto saved = save_record(*record, options.file); !saved) return fail(saved.error());
  return tell(show_terminal(say_fit(*fitted), style_of(console)));
}

int run_record_show(const RecordShowOptions& options, const Console& console) {
  const auto record = read_record(options.file);
  if (!record) return fail(record.error());
  return tell(show_terminal(say_record(*record, date_or_today(options.today)), style_of(console)));
}

int run_record_plan(const RecordPlanOptions& options, const Console& console) {
  const auto record = read_record(options.file);
  if (!record) return fail(record.error());
  PlanSettings settings;
  settings.times = options.times;
  const auto times = plan_times(*record, settings);
  if (!times) return fail(times.error());
  return tell(show_terminal(say_plan(*times), style_of(console)));
}

}  // namespace hairline::cli
