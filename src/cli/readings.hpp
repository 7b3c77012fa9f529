// Readings as a person gives them: options of one call, or answers on a terminal.
#pragma once
#include <vector>

#include "hairline/records.hpp"
#include "options.hpp"

namespace hairline::cli {

// Empty when no option names a reading. Fails with usage: a part is missing, an unknown word.
Result<std::vector<AnyReading>> readings_from_options(const RecordReadOptions& options);
// Asks on the terminal. Fails with usage when the answers end early or are no numbers.
Result<std::vector<AnyReading>> readings_from_answers();

}  // namespace hairline::cli
