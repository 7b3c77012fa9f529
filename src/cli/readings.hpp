// Readings as a person answers questions on a terminal.
#pragma once
#include <vector>

#include "hairline/records.hpp"

namespace hairline::cli {

// Fails with usage when the answers end early, with invalid where one does not fit.
Result<std::vector<AnyReading>> readings_from_answers();

}  // namespace hairline::cli
