/// What chances and ranges are worked out from.
#pragma once
#include "hairline/risk.hpp"

namespace hairline::risk {

/// Critical exposure, s, of a wide wall, or of a tall, wide dark gap, in a layer; base and transition layers: the
/// layer's own time.
double wide_critical_s(const CureModel& model, const PrintedLayer& printed, Fate fate);

}  // namespace hairline::risk
