/// From what a check finds at each time to the time to set, and to what has to change where no time saves everything
/// (docs/verdicts.md, "The time to set").
#pragma once
#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "hairline/record.hpp"
#include "hairline/risk.hpp"
#include "hairline/verdict.hpp"

namespace hairline {

/// How a detail that stays lost at the suggested time would have to change so that its chance there falls under 5 %.
struct Change {
  Fate fate = Fate::vanish;
  std::uint32_t from_layer = 0, to_layer = 0;
  BoxMm box;
  double width_mm = 0;   ///< as drawn
  double needed_mm = 0;  ///< thickness (wall) or width (gap) it needs: whole hundredths, over width_mm by 0.01 at least
  double needed_px = 0;  ///< the difference, in pixels of the finer pitch; flat gaps: in layers
  bool flat = false;
  double critical_exposure_s = 0;
};

/// `record`: the record does not reach far enough to say; print coupons first.
enum class Action : std::uint8_t { keep, change, record };

/// Times to print coupons at, rising, and how many of the details that stay lost at the suggested time they would save.
struct CouponAdvice {
  std::vector<double> exposures_s;
  std::uint32_t saves = 0;
};

struct Suggestion {
  Action action = Action::keep;
  double exposure_s = 0;                          ///< the job's own unless action is `change`
  std::optional<std::array<double, 2>> window_s;  ///< around exposure_s: no avoidable detail is at risk inside
  bool conflict = false;                          ///< bulk holds at some row, but at none is everything avoidable safe
  std::optional<double> base_s;                   ///< unset: the job states none, or its own is sound
  std::optional<double> layer_height_mm;          ///< another height that would open a window (an estimate)
  std::optional<CouponAdvice> coupons;
  std::optional<OwnTime> exception;  ///< of the job, that is to blame for a loss or for bulk that may not bond
  /// The nearest time of the record at which nothing is at risk: of a job outside the record, and of one whose time is
  /// kept though something may be lost, or bulk is not sure to bond.
  std::optional<double> covered_s;
  /// What hangs on parts that may be lost at exposure_s, where that is reason enough to hold the print there too; 0:
  /// not.
  double then_hangs_mm3 = 0;
  std::vector<Change> changes;                           ///< of what stays lost at exposure_s, worst first
  std::string text;                                      ///< the suggestion in one or two sentences
  std::vector<std::string> tonight, slicing, modelling;  ///< what to do, by what it costs
  SweepPoint now, then;                                  ///< rows of the job's time and of exposure_s
  std::vector<SweepPoint> sweep;
  bool coarse_sweep = false;  ///< the range is too wide for rows 5 % apart
};

constexpr std::uint32_t most_sweep_steps = 254;  ///< of a sweep; with the job's own time 255 rows

struct SweepSettings {
  double from_s = 0, to_s = 0;  ///< 0: the record's valid range
  std::uint32_t steps = 0;      ///< rows, ends included; 0: multiples of 0.05 s about 5 % apart, at most 13
};

/// Times of the rows, rising: both ends, the job's own (which may lie outside), and those between.
struct RowTimes {
  std::vector<double> times_s;
  bool coarse = false;  ///< more than 6 % apart because of the most that are looked at
};
RowTimes row_times(const SweepSettings& settings, const CureModel& model, double job_s);

/// What the plan needs of the job and the record beside the details.
struct PlanContext {
  const RiskContext& risk;
  double layer_height_mm = 0.05;
  std::optional<double> base_s;  ///< the job's
  std::vector<BaseReading> base_readings;
  std::vector<IslandRow> islands;
  std::vector<FaintPart> faint;
  SweepSettings sweep;
};

/// Base exposure from which the base's bulk bonds but for a chance of 0.1 %, s; 0 where nothing of it is bulk, and
/// where its worst layer has another time than `base_s`.
double base_bonds_from_s(const RiskFound& found, const RiskContext& context, double base_s);

/// Window, time to set, needed changes and what to do. Precondition: `found.rows` has a row for each of
/// `context.risk.times_s`, the job's own among them.
Suggestion suggest(const RiskFound& found, const PlanContext& context);

}  // namespace hairline
