// record read: readings as a person gives them, by options of one call, a CSV file or answers on a terminal.

#include <fmt/format.h>

#include <tuple>

#include "hairline/files.hpp"
#include "hairline/say_record.hpp"
#include "options.hpp"
#include "outputs.hpp"
#include "questions.hpp"

namespace hairline::cli {
namespace {

struct Options {
  std::string file, csv;
  std::optional<double> take_back_s;
  HowToTake how;
  Cells cells;  // what was read, as given
};

Result<std::vector<AnyReading>> readings_of_file(const std::string& path) {
  const auto text = read_text(path, 1u << 20);
  if (!text) return tl::unexpected(text.error());
  return parse_readings_csv(*text, path);
}

Error no_reading() {
  return {ErrorKind::usage, "", "no reading was given",
          "--exposure with sizes, a look or a cure depth; --base with its result; or --csv FILE",
          "See `hairline record read --help`."};
}

int told(const TakenReadings& taken, const Context& context) {
  Document said = say_reading(taken.edited.record, taken.changed);
  for (const std::string& kept : taken.kept) said.push_back(Paragraph{kept});
  return tell(show_terminal(said, style_of(context.console)));
}

// After Ctrl-C: what was answered before it is kept where it is a reading.
int stopped(const Options& options, const Context& context, const Cells& cells, const TakenReadings& before) {
  std::ignore = print("\n");  // behind the question
  std::uint32_t changed = before.changed;
  if (!cells.empty())
    if (const auto taken = take_answers(options.file, cells, options.how, context, before.edited.record))
      changed += taken->changed;
  complain("stopped on request." +
           (changed == 0 ? "" : fmt::format(" What you had answered is in {} as a reading.", options.file)));
  return status_interrupted;
}

// Coupon by coupon, each kept when its last question is answered, until an exposure is left empty.
int read_coupons(const Options& options, const Context& context, const ResinRecord& record) {
  if (auto printed = print(how_to_answer); !printed) return fail(printed.error());
  TakenReadings all{{record}, 0, {}};
  std::uint32_t coupons = 0, refused = 0;
  for (bool ended = false; !ended;) {
    const auto answers = ask_coupon(all.edited.record, {}, context);
    if (!answers) return fail(answers.error());
    if (context.progress.cancelled()) return stopped(options, context, answers->cells, all);
    ended = answers->ended;
    if (answers->cells.empty()) break;
    ++coupons;
    if (auto taken = take_answers(options.file, answers->cells, options.how, context, all.edited.record)) {
      all.changed += taken->changed;
      all.edited = std::move(taken->edited);
      all.kept.insert(all.kept.end(), taken->kept.begin(), taken->kept.end());
    } else {
      ++refused;
    }
    if (ended) break;
    if (auto printed = print("\nThe next coupon; an empty line ends it.\n"); !printed) return fail(printed.error());
  }
  if (coupons == 0) return fail(no_reading());
  if (refused == coupons) return status_not_checked;
  const int status = told(all, context);
  return refused > 0 ? status_not_checked : status;
}

int take_back(const Options& options, const Context& context) {
  std::uint32_t taken = 0;
  const auto change = [&](ResinRecord& record) -> Result<bool> {
    taken = hairline::take_back(record, *options.take_back_s, date_or_today(options.how.today));
    if (taken > 0) return true;
    return tl::unexpected(Error{ErrorKind::usage, options.file,
                                fmt::format("nothing was read at {} s", *options.take_back_s),
                                "the exposure of a coupon that was read", "See `hairline record show`."});
  };
  const auto record = change_record(options.file, change, context);
  return record ? tell(show_terminal(say_taken_back(*record, taken), style_of(context.console))) : fail(record.error());
}

int run(const Options& options, const Context& context) {
  if (options.take_back_s && options.cells.empty() && options.csv.empty()) return take_back(options, context);
  if (options.take_back_s)
    return fail(
        usage("--take-back beside readings", "--take-back alone", "Take back first, then add in another call."));
  const auto record = read_record(options.file);
  if (!record) return fail(record.error());
  const std::vector<std::string> tables(options.csv.empty() ? 0 : 1, options.csv);
  if (auto free = try_outputs({options.file}, tables); !free) return fail(free.error());
  auto readings = options.csv.empty() ? readings_from_options(options.cells, record->layer_height_mm)
                                      : readings_of_file(options.csv);
  if (readings && readings->empty()) {
    if (context.console.questions) return read_coupons(options, context, *record);
    readings = tl::unexpected(no_reading());
  }
  if (!readings) return fail(readings.error());
  const auto taken = take_in(options.file, *readings, options.how, context);
  return taken ? told(*taken, context) : fail(taken.error());
}

std::string look_help() {
  std::string help = "Looks:\n";
  for (std::size_t i = 0; i < std::size(look_words); ++i)
    help += fmt::format("  {:<14}  {}\n", look_words[i], look_meanings[i]);
  return help;
}

}  // namespace

void add_record_read(CLI::App& app, Context& context) {
  CLI::App& command = add_command(
      app, "read", "Add what was read off a printed coupon; without options it asks, on a terminal",
      "  hairline record read harbour-grey.json --exposure 2.5 --wall 0.08 --slot 0.11 --look crisp\n"
      "  hairline record read harbour-grey.json --exposure \"2500 ms\" --wall \"0,08 0,09 0,085\"\n"
      "  hairline record read harbour-grey.json --exposure 5 --cure-depth 0.31\n"
      "  hairline record read harbour-grey.json --base 30 --base-layers 5 --base-result held\n"
      "  hairline record read harbour-grey.json --csv readings.csv\n"
      "  hairline record read harbour-grey.json\n\n"
      "Numbers may have a unit of their kind and a decimal comma; 1,500 is refused where it may be 1.5 or 1500.");
  command.footer(command.get_footer() + "\n\n" + look_help());
  Options& read = options_of(command, context, run);
  add_record_file(command, read.file);
  for (const FieldRule& rule : reading_rules())
    add_field(command, rule, [&read, key = rule.key](const std::string& text) { read.cells[key] = text; });
  command.add_option("--csv", read.csv, "Take the readings from a CSV file")->type_name("FILE");
  add_number(command, "--take-back", read.take_back_s,
             "Take out what was read at this exposure, s, as of a mistyped time (the record keeps it as replaced)",
             seconds);
  command.add_flag("--replace", read.how.replace,
                   "What is given takes the place of what was read earlier off the same coupon; the rest stays");
  add_today(command, read.how.today, "Date of the reading");
}

}  // namespace hairline::cli
