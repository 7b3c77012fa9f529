/// Resin records for a person: what `record show`, `record fit` and `record plan` print.
#pragma once
#include <string>
#include <vector>

#include "hairline/document.hpp"
#include "hairline/fit.hpp"
#include "hairline/record.hpp"

namespace hairline {

/// Facts, fit with its 90 % ranges, limit curves as a table and a picture ("limit curves"), residuals with the worst
/// one marked. `today` is YYYY-MM-DD, for the age.
Document say_record(const ResinRecord& record, const std::string& today);
/// What adding readings did: how many changed the record, and what it holds now.
Document say_reading(const ResinRecord& record, std::uint32_t changed);
/// What a fit found, how sure it is, what it rests on.
Document say_fit(const FitReport& report);
/// The times worth printing next, best first.
Document say_next_prints(const std::vector<NextPrint>& times);

}  // namespace hairline
