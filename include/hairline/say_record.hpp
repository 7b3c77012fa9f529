/// Resin records for a person: what `record show`, `fit`, `plan` and `list` print.
#pragma once
#include <string>
#include <vector>

#include "hairline/document.hpp"
#include "hairline/fit.hpp"
#include "hairline/record.hpp"
#include "hairline/record_edit.hpp"

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
/// The records found in `folder`, one row each, in their order: age on `today` (YYYY-MM-DD), time to use, sound or
/// weak, day of last use, labels and file; below one that cannot be read, what is wrong with it.
Document say_records(const std::string& folder, const std::vector<FoundRecord>& found, const LastUses& uses,
                     const std::string& today);

}  // namespace hairline
