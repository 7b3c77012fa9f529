/// What came out of prints, as the desk keeps and shows it.
#pragma once
#include "hairline/outcome.hpp"
#include "json.hpp"
#include "shared.hpp"

namespace hairline::desk {

/// All that is kept, the newest first. Fails as find_outcomes does.
Result<std::vector<FoundOutcome>> outcomes_in(const Folder& folder);
/// One print as a row of a list.
Json row_of(const FoundOutcome& found);
/// Of the outcomes, the sound ones.
std::vector<Outcome> sound_ones(const std::vector<FoundOutcome>& found);

}  // namespace hairline::desk
