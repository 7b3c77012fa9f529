/// A close look at the parts that may be lost: how much goes of what was drawn, how far it reaches, what it welds or
/// shuts.
#pragma once
#include <vector>

#include "candidates.hpp"

namespace hairline::risk {

/// Looks at all chosen places, of all times, in one pass over the layers from the top down; fails as `solid_of` does.
Result<void> look_closely(std::vector<TimeParts>& times, const RunStore& store, const RiskContext& context,
                          const SolidOf& solid_of);

}  // namespace hairline::risk
