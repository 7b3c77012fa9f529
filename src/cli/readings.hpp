// Readings as they come in: from options, a CSV file, or answers on a terminal; and put into a record.
#pragma once
#include <string>
#include <vector>

#include "hairline/record.hpp"
#include "options.hpp"

namespace hairline::cli {

struct Readings {
  std::vector<BracketReading> bracket;
  std::vector<CureDepthReading> cure_depth;
  std::vector<BaseReading> base;
  bool empty() const { return bracket.empty() && cure_depth.empty() && base.empty(); }
};

// Fails with usage: sizes without an exposure, an unknown word.
Result<Readings> readings_from_options(const RecordReadOptions& options);
// A header line names the columns: exposure_s, the five sizes as in the record's file, look, reading_error_mm,
// cure_depth_mm, base_s, base_layers, base_result; in any order, empty cells are not read. Fails with invalid, naming
// line and column.
Result<Readings> readings_from_csv(const std::string& path);
// Asks on the terminal. Fails with usage when the answers end early.
Result<Readings> readings_from_answers();

// Adds each reading to the record. At an exposure that was read before, new sizes join the old reading; a value that
// differs replaces it (the old one is kept under `superseded`) when `replace`, and else fails with mismatch.
Result<void> add_readings(ResinRecord& record, const Readings& readings, const std::string& today, bool replace);

}  // namespace hairline::cli
