#include "readings.hpp"

#include <fmt/format.h>

#include <iostream>

#include "../calibrate/reading_fields.hpp"
#include "console.hpp"

namespace hairline::cli {

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

}  // namespace hairline::cli
