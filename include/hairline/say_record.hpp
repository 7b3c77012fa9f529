/// Resin records for a person: what `record show`, `fit`, `plan` and `list` print.
#pragma once
#include <string>
#include <vector>

#include "hairline/document.hpp"
#include "hairline/fit.hpp"
#include "hairline/record.hpp"
#include "hairline/record_edit.hpp"

namespace hairline {

/// Facts, fit, limit curves as a table and a picture ("limit curves"), readings beside the fit, and last the time to
/// use. `today` is YYYY-MM-DD, for the age; `explain`: residuals in standard deviations too, with the worst one marked.
Document say_record(const ResinRecord& record, const std::string& today, bool explain = false);
/// What adding readings did: how many changed the record, and what it holds now.
Document say_reading(const ResinRecord& record, std::uint32_t changed);
/// After `record read --take-back`: how many were taken out.
Document say_taken_back(const ResinRecord& record, std::uint32_t taken);
/// What a fit found, how sure it is, which readings do not agree, and last the time to use. `record` has the fit put
/// in; `explain`: also how the search went and what it rests on.
Document say_fit(const ResinRecord& record, const FitReport& report, bool explain = false);
/// What to read and print next, best first, and last the time to use.
Document say_next_prints(const ResinRecord& record, const std::vector<NextPrint>& next);
/// The records found in `folder`, one row each, in their order: age on `today` (YYYY-MM-DD), time to use, sound or
/// weak, day of last use, labels and file; below one that cannot be read, what is wrong with it.
Document say_records(const std::string& folder, const std::vector<FoundRecord>& found, const LastUses& uses,
                     const std::string& today);

}  // namespace hairline
