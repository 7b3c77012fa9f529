// record read: readings as a person gives them, by options of one call, a CSV file or answers on a terminal.

#include <fmt/format.h>

#include <array>
#include <iostream>

#include "commands.hpp"
#include "hairline/files.hpp"
#include "hairline/record_report.hpp"
#include "hairline/records.hpp"
#include "options.hpp"

namespace hairline::cli {
namespace {

struct Options {
  std::string file, csv, today;
  std::optional<double> exposure_s, wall_mm, slot_mm, pin_mm, hole_mm, flat_slot_mm, error_mm, cure_depth_mm, base_s;
  std::optional<std::uint32_t> base_layers;
  std::string look, base_result;
  bool ladder = false, replace = false;
};

Error wrong(std::string found, std::string expected) {
  return {.kind = ErrorKind::usage,
          .file = {},
          .layer = {},
          .found = std::move(found),
          .expected = std::move(expected),
          .advice = "Nothing was changed; see `hairline record read --help`."};
}

struct Question {
  const char* column;
  const char* text;
};
constexpr std::array<Question, 7> questions{
    {{"exposure_s", "Normal exposure of the coupon, s"},
     {"thinnest_wall_mm", "Thinnest wall that stands, mm"},
     {"narrowest_slot_mm", "Narrowest upright slot still open, mm"},
     {"thinnest_pin_mm", "Thinnest pin that stands, mm"},
     {"smallest_hole_mm", "Smallest hole still open, mm"},
     {"narrowest_flat_slot_mm", "Lowest flat slot still open, mm"},
     {"look", "Look: missing, under, slightly-under, crisp, slightly-over, over"}}};

Result<BracketReading> bracket_from(const Options& options) {
  BracketReading reading;
  reading.exposure_s = *options.exposure_s;
  reading.thinnest_wall_mm = options.wall_mm;
  reading.narrowest_slot_mm = options.slot_mm;
  reading.thinnest_pin_mm = options.pin_mm;
  reading.smallest_hole_mm = options.hole_mm;
  reading.narrowest_flat_slot_mm = options.flat_slot_mm;
  reading.reading_error_mm = options.error_mm;
  reading.ladder = options.ladder;
  if (options.look.empty()) return reading;
  reading.look = look_from(options.look);
  if (!reading.look)
    return tl::unexpected(wrong(fmt::format("--look is \"{}\"", options.look),
                                "missing, under, slightly-under, crisp, slightly-over or over"));
  return reading;
}

Result<BaseReading> base_from(const Options& options) {
  if (!options.base_s || !options.base_layers || options.base_result.empty())
    return tl::unexpected(wrong("a base reading is incomplete", "--base, --base-layers and --base-result together"));
  BaseReading reading;
  reading.base_s = *options.base_s;
  reading.layers = *options.base_layers;
  const auto result = base_result_from(options.base_result);
  if (!result)
    return tl::unexpected(wrong(fmt::format("--base-result is \"{}\"", options.base_result), "lifted, held or welded"));
  reading.result = *result;
  return reading;
}

bool has_coupon(const Options& options) {
  return options.wall_mm || options.slot_mm || options.pin_mm || options.hole_mm || options.flat_slot_mm ||
         !options.look.empty();
}

// Empty when no option names a reading. Fails with usage: a part is missing, an unknown word.
Result<std::vector<AnyReading>> readings_from_options(const Options& options) {
  std::vector<AnyReading> readings;
  const bool coupon = has_coupon(options);
  if ((coupon || options.cure_depth_mm) && !options.exposure_s)
    return tl::unexpected(wrong("there is no --exposure", "the exposure the coupon was printed at"));
  if (options.exposure_s && !coupon && !options.cure_depth_mm)
    return tl::unexpected(wrong("there is nothing but an exposure", "a size, --look or --cure-depth beside it"));
  if (coupon) {
    const auto reading = bracket_from(options);
    if (!reading) return tl::unexpected(reading.error());
    readings.emplace_back(*reading);
  }
  if (options.cure_depth_mm) {
    CureDepthReading reading;
    reading.exposure_s = *options.exposure_s;
    reading.depth_mm = *options.cure_depth_mm;
    readings.emplace_back(reading);
  }
  if (options.base_s || options.base_layers || !options.base_result.empty()) {
    const auto reading = base_from(options);
    if (!reading) return tl::unexpected(reading.error());
    readings.emplace_back(*reading);
  }
  return readings;
}

// Asks on the terminal. Fails with usage when the answers end early or are no numbers.
Result<std::vector<AnyReading>> readings_from_answers() {
  if (auto printed = print("Type what you read; an empty line where you did not.\n"); !printed)
    return tl::unexpected(printed.error());
  std::string columns, cells;
  for (const Question& question : questions) {
    if (auto printed = print(std::string(question.text) + ": "); !printed) return tl::unexpected(printed.error());
    std::string answer;
    if (!std::getline(std::cin, answer))
      return tl::unexpected(wrong("the answers ended early", "one line per question"));
    // The answers become one line of CSV, so that they are held to the rules of every reading.
    columns += fmt::format("{};", question.column);
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
  auto readings = options.csv.empty() ? readings_from_options(options) : readings_of_file(options.csv);
  if (readings && readings->empty() && context.console.questions) readings = readings_from_answers();
  if (readings && readings->empty()) readings = tl::unexpected(no_reading());
  if (!readings) return fail(readings.error());
  const auto changed = add_readings(*record, *readings, date_or_today(options.today),
                                    options.replace ? IfThere::replace : IfThere::keep);
  if (!changed) return fail(changed.error());
  if (*changed > 0)
    if (auto saved = save_record(*record, options.file); !saved) return fail(saved.error());
  return tell(to_reading_terminal(*record, *changed, style_of(context.console)));
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
  const Range size{0, 5, "millimetres", "MM"};
  add_number(command, "--exposure", read.exposure_s, "Normal exposure of the coupon, s", seconds);
  add_number(command, "--wall", read.wall_mm, "Thinnest wall that stands, mm", size);
  add_number(command, "--slot", read.slot_mm, "Narrowest upright slot still open, mm", size);
  add_number(command, "--pin", read.pin_mm, "Thinnest pin that stands, mm", size);
  add_number(command, "--hole", read.hole_mm, "Smallest hole still open, mm", size);
  add_number(command, "--flat-slot", read.flat_slot_mm, "Lowest flat slot still open, mm", size);
  add_number(command, "--error", read.error_mm, "Reading error, mm (default 0.01)", size);
  command.add_flag("--ladder", read.ladder, "Sizes are steps of a ladder, not places on a wedge");
  command.add_option("--look", read.look, "How the coupon looks")
      ->type_name("missing|under|slightly-under|crisp|slightly-over|over");
  add_number(command, "--cure-depth", read.cure_depth_mm, "Thickness by caliper that cured at --exposure, mm", size);
  add_number(command, "--base", read.base_s, "Base exposure, s", seconds);
  add_count(command, "--base-layers", read.base_layers, "How many base layers", 1, 1000);
  command.add_option("--base-result", read.base_result, "How the base layers held")->type_name("lifted|held|welded");
  command.add_option("--csv", read.csv, "Take the readings from a CSV file")->type_name("FILE");
  command.add_flag("--replace", read.replace,
                   "A reading that differs from an earlier one takes its place (the old one is kept)");
  add_today(command, read.today, "Date of the reading");
}

}  // namespace hairline::cli
