/// What stays lost, and what the person can do about it. Internal to src/plan.
#pragma once
#include <optional>

#include "hairline/plan.hpp"

namespace hairline::plan {

/// From this chance on a detail counts as at risk; z_at_risk spreads away from its critical exposure it has that
/// chance.
inline constexpr double chance_at_risk = 0.05, z_at_risk = 1.6448536;

/// Is something at risk at the row that some time of the record could save?
bool has_at_risk(const TimeRow& row);

/// May it be lost, and does so much hang on it at that chance that the print should not be started?
bool is_grave_risk(const Detail& detail, const VerdictBounds& bounds = {});

/// From this chance on a loss of another row is told where a check at the time itself finds nothing of it.
inline constexpr double z_between_rows = 1.4050716;  // 8 %

/// Of a row with nothing avoidable at risk the nearest one at which something avoidable will be lost, if that has a
/// chance here too, because the dose of a print may differ by as much; else null. A check here need not see it: what
/// will flip, and what may, can each be rounding while both together are not.
const TimeRow* loss_beside(const std::vector<TimeRow>& rows, const TimeRow& here);

/// For each lost detail of the row how it would have to change, worst first.
std::vector<Change> needed_changes(const TimeRow& row, const PlanContext& context);

/// Least time in which bulk of a layer of this height bonds but for a chance of 0.1 %.
double sure_bond_s(const RiskContext& context, double height_mm);

/// Another layer height at which everything lost in the rows would fit into one window, nearest to the job's.
std::optional<double> better_height(const RiskFound& found, const PlanContext& context);

/// Fills tonight, slicing and modelling of a suggestion that is otherwise complete.
void add_levers(const RiskFound& found, const PlanContext& context, Suggestion& suggestion);

}  // namespace hairline::plan
