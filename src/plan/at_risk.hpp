/// What counts as at risk at a time, and what holds a print for it. Internal to src/plan.
#pragma once
#include "hairline/plan.hpp"

namespace hairline::plan {

/// From this chance on a detail counts as at risk; z_at_risk spreads away from its critical exposure it has that
/// chance.
inline constexpr double chance_at_risk = 0.05, z_at_risk = 1.6448536;

/// Lost, and named by itself: the rim of a lost `will` detail, which has no harm of its own, is not.
bool is_named(const Detail& detail);
bool will_be_lost(const Detail& detail);
bool may_be_lost(const Detail& detail);

/// Is something at risk at the row that some time of the record could save?
bool has_at_risk(const TimeRow& row);

/// May it be lost, and does so much hang on it at that chance that the print should not be started?
bool is_grave_risk(const Detail& detail);

/// From this chance on a loss of another row is told where a check at the time itself finds nothing of it.
inline constexpr double z_between_rows = 1.4050716;  // 8 %

/// Of a row with nothing avoidable at risk the nearest one at which something avoidable will be lost, if that has a
/// chance here too, because the dose of a print may differ by as much; else null. A check here need not see it: what
/// will flip, and what may, can each be rounding while both together are not.
const TimeRow* loss_beside(const std::vector<TimeRow>& rows, const TimeRow& here);

/// What is lost at another row and goes here too, though here nothing is lost in its place: it has run together with
/// what is only rounding, or falls just short of what counts. Where that is so of several rows, the one with the most.
struct AlsoLost {
  double exposure_s = 0;  ///< of that row
  std::uint32_t parts = 0, gaps = 0;
  double harm_mm = 0;  ///< times the chance there, without what falls there
  std::uint32_t losses() const { return parts + gaps; }
};
/// `surely`: parts lost with more light than here, and gaps closed with less; else all of which at least half goes, by
/// the critical exposure.
AlsoLost also_lost(const std::vector<TimeRow>& rows, const TimeRow& here, bool surely);

/// Does so much stand on parts that may be lost, none of which carries it alone, that it should be said? Alike parts of
/// one print get one dose: they may well go together.
bool is_on_doubtful(double shared_load_mm3);

}  // namespace hairline::plan
