// record new, fit, show, plan. (record read: record_read.cpp; record list: record_list.cpp)
#include "commands.hpp"
#include "hairline/files.hpp"
#include "hairline/page.hpp"
#include "hairline/record_edit.hpp"
#include "hairline/say_record.hpp"
#include "options.hpp"
#include "outputs.hpp"

namespace hairline::cli {

void tell_unguarded(const std::string& file, const EditedRecord& edited) {
  if (!edited.guarded) complain(file + ": its folder knows no locks; change the record in one run at a time.");
}

namespace {

Result<ResinRecord> written(const std::string& file, Result<EditedRecord> edited) {
  if (!edited) return tl::unexpected(std::move(edited.error()));
  tell_unguarded(file, *edited);
  return std::move(edited->record);
}

}  // namespace

Result<ResinRecord> change_record(const std::string& file,
                                  const std::function<Result<bool>(ResinRecord& record)>& change,
                                  const Context& context) {
  return written(file, edit_record(file, change, &context.progress));
}

Result<ResinRecord> make_record(const std::string& file, const ResinRecord& facts, const std::string& today,
                                bool replace, const Context& context) {
  auto record = new_record(facts, today);
  if (!record) return record;
  return written(file, add_record(std::move(*record), file, replace, &context.progress));
}

int run_fit(const FileAndDate& options, const Context& context) {
  Result<FitReport> fitted;
  FitSettings settings;
  settings.leave_out_odd = options.leave_out;
  const auto fit = [&](ResinRecord& record) -> Result<bool> {
    fitted = fit_record(record, settings);
    if (!fitted) return tl::unexpected(fitted.error());
    apply_fit(record, *fitted, date_or_today(options.today));
    return true;
  };
  const auto edited = change_record(options.file, fit, context);
  if (!edited) return fail(edited.error());
  return tell(show_terminal(say_fit(*edited, *fitted, options.explain), style_of(context.console)));
}

namespace {

struct NewOptions {
  std::string file;
  ResinRecord facts;
  bool replace = false;
};

int run_new(const NewOptions& options, const Context& context) {
  const auto made = make_record(options.file, options.facts, date_or_today(""), options.replace, context);
  return made ? tell(visible(options.file) + "\n") : fail(made.error());
}

void add_new(CLI::App& app, Context& context) {
  CLI::App& command =
      add_command(app, "new", "Start a record of one resin on one printer",
                  "  hairline record new harbour-grey.json --resin \"harbour grey\" --pitch 0.05 --height 0.05");
  NewOptions& options = options_of(command, context, run_new);
  add_output(command, "file", options.file, "The resin record")->required();
  for (const auto& fact : fact_fields)
    add_field(command, fact,
              [&options, &fact](const std::string& text) { fact.set(options.facts, value_from(fact, text)); });
  command.add_flag("--replace", options.replace, "Replace a record that exists");
}

void add_explain(CLI::App& app, bool& explain) {
  app.add_flag("--explain", explain, "Add what rests on statistics: residuals, priors, the search");
}

void add_fit(CLI::App& app, Context& context) {
  CLI::App& command =
      add_command(app, "fit", "Fit the record to its readings", "  hairline record fit harbour-grey.json");
  FileAndDate& options = options_of(command, context, run_fit);
  add_record_file(command, options.file);
  add_explain(command, options.explain);
  command.add_flag("--leave-out", options.leave_out, "Fit without the readings that do not agree with the others");
  add_today(command, options.today, "Date of the fit");
}

struct ShowOptions : FileAndDate {
  std::string html;
};

int run_show(const ShowOptions& options, const Context& context) {
  if (!options.html.empty())
    if (auto tried = try_outputs({options.html}, {options.file}); !tried) return fail(tried.error());
  const auto record = read_record(options.file);
  if (!record) return fail(record.error());
  if (!options.html.empty()) {
    const auto wrote = write_output(options.html, show_record_html(*record, date_or_today(options.today)));
    if (!wrote) return fail(wrote.error());
    if (options.html == "-") return status_fine;
  }
  return tell(
      show_terminal(say_record(*record, date_or_today(options.today), options.explain), style_of(context.console)));
}

void add_show(CLI::App& app, Context& context) {
  CLI::App& command = add_command(app, "show", "Facts, fit, limit curves and residuals",
                                  "  hairline record show harbour-grey.json\n"
                                  "  hairline record show harbour-grey.json --html harbour-grey.html");
  ShowOptions& options = options_of(command, context, run_show);
  add_record_file(command, options.file);
  add_explain(command, options.explain);
  add_output(command, "--html", options.html, "Write a page to look at; - is stdout");
  add_today(command, options.today, "Date the age is counted to");
}

struct PlanOptions {
  std::string file;
  NextPrintSettings settings;
};

int run_plan(const PlanOptions& options, const Context& context) {
  const auto record = read_record(options.file);
  if (!record) return fail(record.error());
  const auto times = next_prints(*record, options.settings);
  if (!times) return fail(times.error());
  return tell(show_terminal(say_next_prints(*record, *times), style_of(context.console)));
}

void add_plan(CLI::App& app, Context& context) {
  CLI::App& command =
      add_command(app, "plan", "The times whose readings would help most", "  hairline record plan harbour-grey.json");
  PlanOptions& options = options_of(command, context, run_plan);
  add_record_file(command, options.file);
  add_count(command, "--times", options.settings.times, "How many new prints to propose (default 3)", 1, 10);
}

}  // namespace

void add_record(CLI::App& app, Context& context) {
  CLI::App& record = add_command(app, "record", "Make, read into, fit, show and list resin records",
                                 "  hairline record evening harbour-grey\n"
                                 "  hairline record new harbour-grey.json --resin \"harbour grey\" --pitch 0.05\n"
                                 "  hairline record fit harbour-grey.json");
  record.require_subcommand(1);
  for (AddCommand* add : {add_new, add_record_read, add_fit, add_show, add_plan, add_record_list, add_record_evening})
    add(record, context);
}

}  // namespace hairline::cli
