/// Resin records as text for a person: what `record show`, `record fit` and `record plan` print.
#pragma once
#include <string>
#include <vector>

#include "hairline/fit.hpp"
#include "hairline/record.hpp"
#include "hairline/report.hpp"

namespace hairline {

/// Facts, fit with its 90 % ranges, limit curves as a table and a plot, residuals with the worst one marked. `today` is
/// YYYY-MM-DD, for the age. All ending in a line break.
std::string to_record_terminal(const ResinRecord& record, const std::string& today, const TerminalStyle& style);
/// What adding readings did: how many changed the record, and what it holds now.
std::string to_reading_terminal(const ResinRecord& record, std::uint32_t changed, const TerminalStyle& style);
/// What a fit found, how sure it is, what it rests on.
std::string to_fit_terminal(const FitReport& report, const TerminalStyle& style);
/// The times worth printing next, best first.
std::string to_plan_terminal(const std::vector<PlannedTime>& times, const TerminalStyle& style);

}  // namespace hairline
