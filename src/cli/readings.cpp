#include "readings.hpp"

#include <fmt/format.h>

#include <array>
#include <iostream>

#include "console.hpp"

namespace hairline::cli {
namespace {

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

Result<BracketReading> bracket_from(const RecordReadOptions& options) {
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

Result<BaseReading> base_from(const RecordReadOptions& options) {
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

bool has_coupon(const RecordReadOptions& options) {
  return options.wall_mm || options.slot_mm || options.pin_mm || options.hole_mm || options.flat_slot_mm ||
         !options.look.empty();
}

}  // namespace

Result<std::vector<AnyReading>> readings_from_options(const RecordReadOptions& options) {
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

}  // namespace hairline::cli
