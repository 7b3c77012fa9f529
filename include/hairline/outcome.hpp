/// What really came out of a print, beside what was said of it (formats/print-outcome.md), and what several prints
/// together say of a record (docs/calibration.md, What came out).
#pragma once
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "hairline/document.hpp"
#include "hairline/local_time.hpp"
#include "hairline/record.hpp"
#include "hairline/result.hpp"
#include "hairline/risk.hpp"
#include "hairline/verdict.hpp"

namespace hairline {

struct Report;

/// A lost detail as the report said it, and whether it was lost.
struct Prediction {
  std::uint32_t id = 0;  ///< of the detail in its report
  Fate fate = Fate::vanish;
  State state = State::will;
  double chance = 0;                          ///< of being lost, 0..1
  std::optional<double> critical_exposure_s;  ///< both unset in base and transition layers
  std::optional<double> log_sd;               ///< spread of ln of it: record and process together
  double width_mm = 0;
  std::uint32_t from_layer = 0, to_layer = 0;
  BoxMm box;
  std::string name;          ///< size and place in words
  std::optional<bool> seen;  ///< it was lost; unset: not looked at
};
/// A loss that the report did not list.
struct OtherLoss {
  Fate fate = Fate::vanish;
  std::string note;
};

/// One print. All text may be foreign.
struct Outcome {
  struct Job {
    std::string file, title;
    std::string content;  ///< Archive::content_key; empty: not known
  } job;
  LocalTime printed_on{};
  double exposure_s = 0;
  struct Record {
    std::string file, resin, printer;
    double blur_mm = 0;  ///< of the fit that the report stood on, by which it is known again
  } record;
  Verdict verdict = Verdict::clear;
  bool came_off = false;  ///< the plate; then nothing else was looked at
  bool fine = false;      ///< nothing was lost that one would mind
  std::vector<Prediction> predictions;
  std::vector<OtherLoss> others;
  std::string note;
};

/// What a report says, before anybody looked; all lost details, in the order of their ids.
Outcome outcome_of(const Report& report, const std::string& content, LocalTime printed_on);
/// The answers of a person: these ids were lost, the others were not, or were not looked at. With no id lost and no
/// other loss the print is fine.
void answer(Outcome& outcome, const std::vector<std::uint32_t>& lost, bool others_looked_at = true);
/// The print came off the plate: nothing else can be said of it.
void answer_came_off(Outcome& outcome);

/// JSON as formats/print-outcome.md, ending in a line break; same value, same bytes.
std::string to_json(const Outcome& outcome);
/// Fails with limit, broken, version, invalid (the first field that is missing or wrong, by its path).
Result<Outcome> parse_outcome(const std::string& text, const std::string& file);

/// One outcome file of a folder; `problem` is set where it cannot be read.
struct FoundOutcome {
  std::string file;
  Outcome outcome;
  std::optional<Error> problem;
};
/// All of a folder's outcomes in the order of their names, which is that of their times; none where the folder does not
/// exist. Fails with unreadable.
Result<std::vector<FoundOutcome>> find_outcomes(const std::filesystem::path& folder);
/// Writes a file of its own into the folder (made if missing), named after time and job, under a lock, so that of two
/// runs neither writes over the other. Fails with unwritable.
Result<std::filesystem::path> add_outcome(const Outcome& outcome, const std::filesystem::path& folder);

// ------------------------------------------------------------------------------------ predicted against seen

/// Thresholds (docs/calibration.md, What came out).
struct OutcomeSettings {
  double dose_spread = usual_dose_spread;  ///< process spread of ln(dose), from print to print
  double detail_log_sd = 0.03;             ///< least spread from detail to detail of one print
  double least_record_log_sd = 0.03;       ///< a record is never taken for surer than this
  double misread = 0.01;                   ///< how often a person ticks the wrong thing
  double sigmas = 2.5;                     ///< of what the record leaves open: so far off 1 in 80 sound records are
  std::uint32_t unforeseen_prints = 3;     ///< prints with a loss that was not listed ...
  double unforeseen_share = 0.5;           ///< ... and what share of all prints they are
  std::uint32_t came_off_prints = 2;
};

/// Why a new coupon is worth it.
enum class NewCoupon : std::uint8_t { no, dose, unforeseen, came_off };

/// Of details of one state: how many were looked at, how many were lost, and how many should have been.
struct Tally {
  std::uint32_t looked_at = 0, seen = 0;
  double expected = 0, spread = 0;  ///< sum of the chances; standard deviation of a Poisson binomial count
};

/// How much more light or a quicker resin (positive) or less would explain what was seen, as ln of the dose, with its
/// 90 % range.
struct DoseShift {
  double log = 0, low = 0, high = 0;
  double record_log_sd = 0;  ///< what the record itself leaves open
};

struct OutcomeSummary {
  std::uint32_t prints = 0;   ///< of the record's present fit
  std::uint32_t earlier = 0;  ///< of earlier fits; they count for nothing below
  std::uint32_t fine = 0, came_off = 0;
  Tally will, may;
  std::uint32_t unforeseen = 0, unforeseen_prints = 0;  ///< losses that were not listed; prints with one
  std::optional<DoseShift> dose;                        ///< unset: nothing was looked at that tells of it
  NewCoupon new_coupon = NewCoupon::no;
  std::optional<double> coupon_s;  ///< the time to print one at; unset: none is known
};
/// Outcomes of other records are passed over: of the same file name only those count.
OutcomeSummary weigh_outcomes(const ResinRecord& record, const std::vector<Outcome>& outcomes,
                              const OutcomeSettings& settings = {});

/// What came out of a record's prints beside what was said, and whether a new coupon is worth it.
Document say_outcomes(const OutcomeSummary& summary);

}  // namespace hairline
