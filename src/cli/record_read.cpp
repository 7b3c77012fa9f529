// record read: readings as a person gives them, by options of one call, a CSV file or answers on a terminal.

#include <fmt/format.h>

#include <iostream>

#include "commands.hpp"
#include "hairline/files.hpp"
#include "hairline/record_edit.hpp"
#include "hairline/say_record.hpp"
#include "options.hpp"

namespace hairline::cli {
namespace {

struct Options {
  std::string file, csv, today;
  Cells cells;  // what was read, as given
  bool replace = false;
};

// Asks on the terminal. Fails with usage when the answers end early, with invalid where one does not fit.
Result<std::vector<AnyReading>> readings_from_answers() {
  if (auto printed = print("Type what you read; an empty line where you did not.\n"); !printed)
    return tl::unexpected(printed.error());
  std::string columns, cells;
  for (const FieldRule& rule : reading_rules()) {
    if (!rule.asked) continue;
    if (auto printed = print(std::string(rule.question) + ": "); !printed) return tl::unexpected(printed.error());
    std::string answer;
    if (!std::getline(std::cin, answer))
      return tl::unexpected(Error{.kind = ErrorKind::usage,
                                  .file = {},
                                  .layer = {},
                                  .found = "the answers ended early",
                                  .expected = "one line per question",
                                  .advice = "Nothing was changed; see `hairline record read --help`."});
    // The answers become one line of CSV, so that a decimal comma is understood there too.
    columns += fmt::format("{};", rule.key);
    cells += answer + ";";
  }
  columns.back() = cells.back() = '\n';
  return parse_readings_csv(columns + cells, "answers");
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

int run(const Options& options, const Context& context) {
  auto record = read_record(options.file);
  if (!record) return fail(record.error());
  if (auto writable = check_writable(options.file); !writable) return fail(writable.error());
  auto readings = options.csv.empty() ? readings_from_options(options.cells) : readings_of_file(options.csv);
  if (readings && readings->empty() && context.console.questions) readings = readings_from_answers();
  if (readings && readings->empty()) readings = tl::unexpected(no_reading());
  if (!readings) return fail(readings.error());
  const auto changed = add_readings(*record, *readings, date_or_today(options.today),
                                    options.replace ? IfThere::replace : IfThere::keep);
  if (!changed) return fail(changed.error());
  if (*changed > 0)
    if (auto saved = save_record(*record, options.file); !saved) return fail(saved.error());
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
