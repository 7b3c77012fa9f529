/// What is lost of all that was looked at, and what harm that does.
#pragma once
#include <vector>

#include "candidates.hpp"

namespace hairline::risk {

/// Fills in what is lost; what was not looked at is taken to be as the one that was in its place.
void find_lost(const RiskContext& context, std::vector<TimeParts>& times);
/// Fills in the harm of what is lost.
void conclude(TimeParts& parts, Standing& standing, const RunStore& store, const RiskContext& context);

}  // namespace hairline::risk
