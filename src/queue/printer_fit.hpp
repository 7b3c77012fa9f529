/// Whether a printer can print a job's masks at all: the one rule of docs/queue.md, The plan.
#pragma once
#include <optional>

#include "hairline/queue.hpp"

namespace hairline::queue {

/// Masks as the rule sees them; `record_pitch_mm`: of the printer its record was made on, unset where it does not say.
struct MaskFacts {
  Pitch pitch;
  std::array<double, 2> size_mm{0, 0};
  std::optional<double> record_pitch_mm;
};

/// LeftOut::other_pixels (only for a printer that has a label) or too_large, and what is needed and there, in mm.
struct Misfit {
  LeftOut why = LeftOut::too_large;
  double needed = 0, available = 0;
};
/// Nothing: it can.
std::optional<Misfit> misfit(const MaskFacts& masks, const QueuePrinter& printer);

}  // namespace hairline::queue
