/// From readings to a fitted record: the fit, its honest uncertainty, the working curve, and which times to print next.
/// Method, priors and their reasons: docs/calibration.md.
///
/// Sources: working curve Cd = Dp ln(E/Ec) (Killgore, UV+EB Technology 2023); ladder steps ISO 3 R10.
#pragma once
#include <array>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "hairline/model.hpp"
#include "hairline/record.hpp"
#include "hairline/result.hpp"

namespace hairline {

// ---------------------------------------------------------------------------------------------------------------- fit

/// Normal prior of the logarithm of a value: `median` in the value's own unit, `log_sd` the standard deviation of its
/// log.
struct LogPrior {
  double median = 1, log_sd = 1;
};

/// What is believed before any reading (docs/calibration.md gives the reasons). All are weak: a factor of 3 to 5 either
/// way at 90 %.
struct FitPriors {
  LogPrior bond_time_per_exposure{0.7, 1.0};  ///< bond time / geometric mean of the exposures printed
  LogPrior fuse_time_per_bond_time{0.35, 1.1};
  LogPrior blur_per_pitch{0.8, 1.0};  ///< used where the printer's pitch is known
  LogPrior blur_mm{0.04, 1.0};        ///< used where it is not
  LogPrior penetration_depth_mm{0.11, 0.7};
  LogPrior flat_per_fuse_time{1, 0.7};   ///< flat time / fuse time; flat slots only
  LogPrior gel_per_bond_time{0.8, 0.7};  ///< gel time / (bond time * exp(-layer height / Dp)); cure depths only
};

/// What the words of `look` say about ln(t / (bond time + fuse time)), the log ratio to the time at which a wall and a
/// slot (a pin and a hole) of one size are lost together. Soft bounds: `softness` is the standard deviation of the
/// edge.
struct LookBounds {
  double crisp_half_width = 0.02;  ///< crisp: within this of the even time
  double slight_from = 0.01;       ///< slightly-under / -over: at least this far off ...
  double slight_to = 0.20;         ///< ... and at most this far
  double clear_from = 0.04;        ///< under / over: at least this far off
  double missing_from = 0.15;      ///< missing: at least this far under
  double softness = 0.02;
  /// crisp also says that the finest sizes are about right: the width at which wall and slot fail together, in pixels
  /// (of a 0.05 mm pitch where the record has none).
  LogPrior crisp_size_px{1.75, 0.35};
};

struct FitSettings {
  double reading_error_mm = 0.01;  ///< where a reading states no error of its own (a loupe on a graduated wedge)
  double least_reading_error_mm = 0.002;
  double ladder_softness = 0.05;  ///< a step of the ladder is judged right within this log size, one standard deviation
  double cure_depth_error_mm = 0.02;    ///< calipers on soft film (Bennett, Addit. Manuf. 18 (2017): unreliable)
  double contradiction_sigmas = 3.5;    ///< readings that break a law of the model by more than this are refused
  std::optional<BlurShape> blur_shape;  ///< unset: lorentzian where the readings prefer it clearly, else gaussian
  std::uint32_t shape_from_sizes = 10;  ///< fewer sizes than this: gaussian
  double shape_margin = 3;              ///< log likelihood by which lorentzian must be better
  double undetermined_ratio = 0.7;      ///< posterior / prior spread from which a parameter counts as not determined
  double undetermined_log_sd = 0.5;     ///< ... and so does one whose 90 % range spans more than a factor of 5
  double weak_window_log_sd = 0.08;     ///< spread of the window's ends from which a record counts as weak
  double wrong_by_mm = 0.05;            ///< standard deviation of a reading that is wrong
  double odd_gain = 2;  ///< a reading is named where doubting it makes all this many times likelier, times their number
  bool leave_out_odd = false;  ///< fit without the readings that do not agree
  FitPriors priors;
  LookBounds looks;
};

/// One parameter with its 90 % range. A fit's range follows the profile of the likelihood on either side; that of a
/// hand-written one is value * exp(-+1.645 log_sd).
struct Estimate {
  std::string name;  ///< as in the file: bond_time_s, ..., penetration_depth_mm, flat_time_s, gel_time_s
  double value = 0, low = 0, high = 0, log_sd = 0;
  bool determined = true;  ///< false: the readings say hardly more than the prior
};

/// How one observation sits in the fit.
struct Residual {
  std::string what;  ///< "thinnest wall at 2.5 s", "look at 2.3 s", "cure depth at 5 s"
  double exposure_s = 0;
  std::optional<double> read_mm, predicted_mm;  ///< unset for looks; predicted unset where nothing would stand
  /// Log of read / predicted over its standard deviation (of widths by caliper read less predicted); 0 inside a step.
  double sigmas = 0;
  bool step = false;  ///< read off a ladder or the stair: the fit may lie as far under it as the next smaller step
};

struct FitReport {
  CureModel model;                   ///< with log_covariance and valid range
  std::vector<Estimate> parameters;  ///< in the order of LogCovariance; the flat time only with flat slots
  std::optional<Estimate> gel_time;  ///< only with cure depths
  std::optional<TimeToUse> use;
  std::vector<Residual> residuals;   ///< in the order of the record: sizes and looks, then cure depths
  std::optional<std::size_t> worst;  ///< index of the largest |sigmas|
  std::vector<std::size_t> odd;      ///< indices of those that do not agree with the others, the worst first
  bool left_out = false;             ///< the fit was made without those
  std::uint32_t size_count = 0, look_count = 0, cure_depth_count = 0;  ///< observations that were used
  bool converged = false;
  std::string stopped;  ///< why the search ended, as a clause
  std::uint32_t evaluations = 0;
  std::vector<std::string> undetermined;  ///< names of parameters that rest on the priors
  bool weak = false;
  std::string weakness;                   ///< one sentence; empty for a sound record
  std::vector<std::string> priors;        ///< the priors used, one sentence each
  std::optional<double> lorentzian_gain;  ///< log posterior of lorentzian minus gaussian, where both were tried
};

/// Most probable parameters of the readings (maximum a posteriori in logs) and their covariance. The same readings give
/// the same report on any machine (values are rounded to 6 digits). Takes milliseconds.
/// Fails with invalid: no reading to fit, a reading out of range, readings that contradict each other or the physics
/// (named).
Result<FitReport> fit_record(const ResinRecord& record, const FitSettings& settings = {});
enum class FitAge : std::uint8_t { unknown, of_these_readings, of_other_readings };
/// Whether bracket and cure depths are those that the record's fit was made of; unknown where it does not say so.
FitAge fit_age(const ResinRecord& record);

/// Puts a fit into the record (fit, fitted_at, method; fields of ours under `fit`); `today` is YYYY-MM-DD.
void apply_fit(ResinRecord& record, const FitReport& report, const std::string& today);

/// The first pair of readings that cannot both be right, as an error that names them; none where all agree.
std::optional<Error> find_contradiction(const ResinRecord& record, const FitSettings& settings = {});

/// The 90 % ranges of a record's fit, as stored, else by its covariance; value = low = high where it has none. Empty
/// without a fit.
std::vector<Estimate> estimates(const ResinRecord& record);
/// Readings in the record's fit that do not agree with the others, by name ("thinnest wall at 2.4 s").
std::vector<std::string> odd_readings(const ResinRecord& record);
/// Residuals of a record's readings against any model (for instance a hand-written fit).
std::vector<Residual> residuals(const ResinRecord& record, const CureModel& model, const FitSettings& settings = {});
/// Why a record is weak, in one sentence, from its readings and stored fit alone; empty for a sound one or one without
/// fit.
std::string weakness(const ResinRecord& record, const FitSettings& settings = {});

// ------------------------------------------------------------------------------------------------- window and curves

/// Exposures between which a wall and an upright slot of one size both survive.
struct Window {
  double size_mm = 0;
  double from_s = 0, to_s = 0;            ///< the wall stands from, the slot stays open up to; from > to: never both
  double from_log_sd = 0, to_log_sd = 0;  ///< by the covariance; 0 without one
};
Window window(const CureModel& model, double size_mm);
/// Time at which a wall and a slot of one size are lost together: bond time + fuse time, for every symmetric blur.
double even_time_s(const CureModel& model);
/// The time for ordinary jobs (docs/calibration.md, The time to use): as stored, else by the fit; none without a fit,
/// and none where coupons were printed and none stood.
std::optional<TimeToUse> time_to_use(const ResinRecord& record);
/// Spread of ln of the even time, by the covariance; 0 without one.
double even_time_log_sd(const CureModel& model);
/// The exposure from which on a wide area bonds in spite of `sigmas` standard deviations of the dose's process spread
/// and, below the shortest exposure at which a coupon stood, of the bond time.
double sure_bond_time_s(const ResinRecord& record, const CureModel& model, double sigmas);
/// The size that both have there.
double even_size_mm(const CureModel& model);

/// Limits at one exposure, mm; unset where nothing stands, 0 where everything stays open.
struct CurvePoint {
  double exposure_s = 0;
  std::optional<double> wall_mm, slot_mm, pin_mm, hole_mm, flat_slot_mm;
};
/// `steps` + 1 points from `from_s` to `to_s` in equal steps; fails with usage unless 0 < from_s < to_s and 1 <= steps
/// <= 100000.
Result<std::vector<CurvePoint>> curve_table(const CureModel& model, double from_s, double to_s, std::uint32_t steps);

// ------------------------------------------------------------------------------------------------------ working curve

/// Straight working curve through cure depths: depth = Dp ln(t / gel time).
struct WorkingCurve {
  double penetration_depth_mm = 0, penetration_depth_se_mm = 0;
  double gel_time_s = 0, gel_time_se_s = 0;
  std::optional<double> critical_mj_per_cm2, critical_se_mj_per_cm2;  ///< Ec, with an irradiance
  double residual_sd_mm = 0;
  std::uint32_t readings = 0;
};
/// Fails with invalid: fewer than 3 readings (2 points leave no room for an error), all at one exposure, or a depth
/// that does not grow with time.
Result<WorkingCurve> fit_working_curve(const std::vector<CureDepthReading>& readings,
                                       std::optional<double> irradiance_mw_per_cm2 = std::nullopt);

/// Optical penetration depth, mm, from a base-10 absorbance over a path: path / (A ln 10).
double optical_depth_mm(double absorbance, double path_mm);

/// Ordinary least squares by QR. rows: n equations of p coefficients each; y: n values.
struct LinearFit {
  std::vector<double> coefficients, standard_errors;
  std::vector<std::vector<double>> covariance;  ///< p x p
  double residual_sd = 0;
};
/// Fails with invalid: n <= p, rows of unequal length, or columns that depend on each other.
Result<LinearFit> fit_linear(const std::vector<std::vector<double>>& rows, const std::vector<double>& y);

/// The optimiser of the fit: a search without derivatives (NLopt, Sbplx), then Newton steps by central differences.
struct Minimum {
  std::vector<double> at;
  double value = 0;
  std::vector<std::vector<double>> covariance;  ///< inverse Hessian at the minimum
  double log_mass = 0;                          ///< ln of the integral of exp(-f) by that Hessian, up to a constant
  bool converged = false;                       ///< the last Newton step was under 1e-6 standard deviations
  std::string stopped;
  std::uint32_t evaluations = 0;
};
/// `step` is a first step in every direction. `f` must be finite at `start` and may be large, never NaN, elsewhere.
Minimum minimise(const std::function<double(const std::vector<double>&)>& f, const std::vector<double>& start,
                 double step);

/// Profile of a minimum: how far below and above its place each coordinate can go, all others following, until f has
/// risen by `rise` (1.353 for a 90 % range of a negative log likelihood). Needs the minimum's covariance.
struct ProfileRange {
  double below = 0, above = 0;
};
std::vector<ProfileRange> profile_ranges(const std::function<double(const std::vector<double>&)>& f,
                                         const Minimum& minimum, double rise);

// ----------------------------------------------------------------------------------------------------------- planning

struct NextPrintSettings {
  std::uint32_t times = 3;         ///< how many new prints to propose at most
  double reading_error_mm = 0.01;  ///< of what would be read on each coupon
  double reach = 1.25;             ///< look this factor beyond the exposures covered so far
  double least_gain = 0.05;  ///< a further coupon must shrink the window's spread by this share and a whole percent
};
struct NextPrint {
  double exposure_s = 0;
  std::string read;  ///< of a coupon that is printed already: what to read on it; empty: a new print
  double log_sd_before = 0,
         log_sd_after = 0;  ///< spread of the window (root mean square of both ends), this reading taken too
  std::string why;          ///< of a new print: where its time lies, "where thin walls begin to fail"
};
/// What would make the record surer, the best first: readings still missing on coupons that are printed already, then
/// new prints, from where a coupon stands to where slots close, at times that the process can tell from each other and
/// from those printed.
/// Greedy, by the covariance of the fit and the readings' linearised information. Fails with invalid: no fit, or a fit
/// without covariance.
Result<std::vector<NextPrint>> next_prints(const ResinRecord& record, const NextPrintSettings& settings = {});
/// The times of the new prints among them, ascending, for a record that is weak; none for any other.
std::vector<double> times_to_print(const ResinRecord& record);

}  // namespace hairline
