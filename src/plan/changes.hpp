/// What stays lost, and what the person can do about it. Internal to src/plan.
#pragma once
#include <optional>

#include "at_risk.hpp"

namespace hairline::plan {

/// For each lost detail of the row how it would have to change, worst first. What of it is hardest to save is seen in
/// the other rows, where the rest of it stays.
std::vector<Change> needed_changes(const TimeRow& row, const std::vector<TimeRow>& rows, const PlanContext& context);

/// Thickness from which a round pin, and width from which a slot, is not at risk at a time, wherever it lies among the
/// pixels.
double safe_pin_mm(const RiskContext& context, double exposure_s);
double safe_slot_mm(const RiskContext& context, double exposure_s);

/// Another layer height at which everything lost in the rows would fit into one window, nearest to the job's.
struct BetterHeight {
  double height_mm = 0;
  double from_s = 0, to_s = 0;  ///< the window
};
std::optional<BetterHeight> better_height(const RiskFound& found, const PlanContext& context);

/// Fills tonight, slicing and modelling of a suggestion that is otherwise complete. `height`: to be named among them.
/// `then`: the row of the time that is kept or set.
void add_levers(const RiskFound& found, const PlanContext& context, const TimeRow& then,
                const std::optional<BetterHeight>& height, Suggestion& suggestion);

}  // namespace hairline::plan
