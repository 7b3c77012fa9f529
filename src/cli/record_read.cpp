// record read: readings as a person gives them, by options of one call, a CSV file or answers on a terminal.

#include <fmt/format.h>

#include <algorithm>
#include <tuple>

#include "commands.hpp"
#include "hairline/files.hpp"
#include "hairline/record_edit.hpp"
#include "hairline/say_record.hpp"
#include "options.hpp"
#include "outputs.hpp"

namespace hairline::cli {
namespace {

struct Options {
  std::string file, csv, today;
  Cells cells;  // what was read, as given
  bool replace = false;
};

// What a person answered, with the rules that were asked.
using Answers = std::vector<std::pair<const FieldRule*, std::string>>;

// Until all is answered, the input ends, or the person stops it.
Result<Answers> ask(const Progress& progress) {
  if (auto printed = print("Type what you read; an empty line where you did not.\n"); !printed)
    return tl::unexpected(printed.error());
  Answers answers;
  for (const FieldRule& rule : reading_rules()) {
    if (!rule.asked) continue;
    if (auto printed = print(std::string(rule.question) + ": "); !printed) return tl::unexpected(printed.error());
    const auto answer = read_line(progress);
    if (!answer) break;
    if (!answer->empty()) answers.emplace_back(&rule, *answer);
  }
  return answers;
}

// One line of CSV, so that a decimal comma is understood here too.
Result<std::vector<AnyReading>> readings_from(const Answers& answers) {
  std::string columns, cells;
  for (const auto& [rule, text] : answers) columns += fmt::format("{};", rule->key), cells += text + ";";
  if (columns.empty()) return {};
  columns.back() = cells.back() = '\n';
  return parse_readings_csv(columns + cells, "answers");
}

// The same by options, for another try.
std::string as_call(const std::string& file, const Answers& answers) {
  std::string call = "hairline record read " + shell_word(file);
  for (const auto& [rule, text] : answers) {
    std::string value = text;
    if (rule->holds == Holds::number) std::replace(value.begin(), value.end(), ',', '.');
    call += fmt::format(" {} {}", rule->option, shell_word(value));
  }
  return call;
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

Result<std::uint32_t> add_to_file(const Options& options, const std::vector<AnyReading>& readings,
                                  const Context& context, ResinRecord& record) {
  std::uint32_t changed = 0;
  const auto change = [&](ResinRecord& there) -> Result<bool> {
    const auto added =
        add_readings(there, readings, date_or_today(options.today), options.replace ? IfThere::replace : IfThere::keep);
    if (!added) return tl::unexpected(added.error());
    changed = *added;
    return changed > 0;
  };
  auto edited = change_record(options.file, change, context);
  if (!edited) return tl::unexpected(edited.error());
  record = std::move(*edited);
  return changed;
}

// After Ctrl-C: what was answered before it is kept where it is a reading, else told as a call that goes on with it.
int stopped(const Options& options, const Context& context, const Answers& answers) {
  std::ignore = print("\n");  // behind the question
  if (answers.empty()) return fail(cancelled(options.file));
  ResinRecord record;
  const auto readings = readings_from(answers);
  const auto added = readings ? add_to_file(options, *readings, context, record) : tl::unexpected(readings.error());
  if (added)
    complain(fmt::format("stopped on request. What you had answered is in {} as a reading.", options.file));
  else
    complain(fmt::format("stopped on request. What you had answered could not be added: {} To go on with it, type: {}",
                         to_paragraph(added.error()), as_call(options.file, answers)));
  return status_interrupted;
}

int run(const Options& options, const Context& context) {
  auto record = read_record(options.file);
  if (!record) return fail(record.error());
  const std::vector<std::string> tables(options.csv.empty() ? 0 : 1, options.csv);
  if (auto free = try_output(options.file, tables); !free) return fail(free.error());
  auto readings = options.csv.empty() ? readings_from_options(options.cells) : readings_of_file(options.csv);
  if (readings && readings->empty() && context.console.questions) {
    const auto answers = ask(context.progress);
    if (!answers) return fail(answers.error());
    if (context.progress.cancelled()) return stopped(options, context, *answers);
    readings = readings_from(*answers);
  }
  if (readings && readings->empty()) readings = tl::unexpected(no_reading());
  if (!readings) return fail(readings.error());
  const auto changed = add_to_file(options, *readings, context, *record);
  if (!changed) return fail(changed.error());
  return tell(show_terminal(say_reading(*record, *changed), style_of(context.console)));
}

}  // namespace

void add_record_read(CLI::App& app, Context& context) {
  CLI::App& command =
      add_command(app, "read", "Add what was read off a printed coupon; without options it asks, on a terminal",
                  "  hairline record read harbour-grey.json --exposure 2.5 --wall 0.08 --slot 0.11 --look crisp\n"
                  "  hairline record read harbour-grey.json --exposure 5 --cure-depth 0.31\n"
                  "  hairline record read harbour-grey.json --base 30 --base-layers 5 --base-result held\n"
                  "  hairline record read harbour-grey.json --csv readings.csv\n"
                  "  hairline record read harbour-grey.json");
  Options& read = options_of(command, context, run);
  add_record_file(command, read.file);
  for (const FieldRule& rule : reading_rules())
    add_field(command, rule, [&read, key = rule.key](const std::string& text) { read.cells[key] = text; });
  command.add_option("--csv", read.csv, "Take the readings from a CSV file")->type_name("FILE");
  command.add_flag("--replace", read.replace,
                   "A reading that differs from an earlier one takes its place (the old one is kept)");
  add_today(command, read.today, "Date of the reading");
}

}  // namespace hairline::cli
