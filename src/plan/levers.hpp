/// What the person can do about it, in words and by what it costs.
#pragma once
#include "hairline/plan.hpp"

namespace hairline {

/// Fills tonight, slicing and modelling of a suggestion that is otherwise complete.
void add_levers(const RiskFound& found, const PlanContext& context, Suggestion& suggestion);

}  // namespace hairline
