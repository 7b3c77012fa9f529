/// The resin record (formats/resin-record.md): what was measured for one resin on one printer, and the fit to it.
#pragma once
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "hairline/model.hpp"
#include "hairline/result.hpp"

namespace hairline {

/// What a coupon looks like as a whole, from too little light to too much; the order is meaningful.
enum class Look : std::uint8_t { missing, under, slightly_under, crisp, slightly_over, over };
enum class BaseResult : std::uint8_t { lifted, held, welded };

/// The words as written in files ("slightly-under").
std::string to_string(Look look);
std::string to_string(BaseResult result);

/// What was seen on one coupon. Sizes in mm, over 0 and up to 5; unset where not read.
/// Widths of the block and the slot that a caliper reads on our own coupon, as drawn.
inline constexpr double coupon_block_mm = 5, coupon_slot_mm = 2;

struct BracketReading {
  double exposure_s = 0;
  std::optional<double> thinnest_wall_mm, narrowest_slot_mm, thinnest_pin_mm, smallest_hole_mm, narrowest_flat_slot_mm;
  /// By caliper: a wide block and a wide slot as drawn and as printed; both or neither.
  struct Width {
    std::optional<double> drawn, printed;
  } block_mm, slot_mm;
  std::optional<Look> look;
  std::optional<double> reading_error_mm;  ///< standard deviation of a reading in mm; 0: read off a ladder of sizes
  bool ladder = false;                     ///< `"ladder": "R10"`: the sizes are steps of the ISO 3 R10 ladder
  std::string date;                        ///< when it was read, YYYY-MM-DD; may be empty
  std::string source;  ///< the entry as read, in JSON, so that unknown fields stay; empty: a new one
};
struct CureDepthReading {
  double exposure_s = 0, depth_mm = 0;
  std::string date;
  std::string source;  ///< as in BracketReading
};
struct BaseReading {
  double base_s = 0;
  std::uint32_t layers = 0;
  BaseResult result = BaseResult::held;
  std::string date;
  std::string source;  ///< as in BracketReading
};
/// A reading that a later one replaced; never used by the fit.
struct SupersededReading {
  std::string kind;         ///< "bracket", "cure_depth" or "base"
  std::string replaced_on;  ///< YYYY-MM-DD
  std::string reading;      ///< in JSON, as it was written
};

/// Coupons, cure depths and bases together. A bench reads a few in an evening; each is held against all others.
inline constexpr std::size_t most_readings = 5000;

/// The time for ordinary jobs, and the range around it that is good: from_s <= exposure_s <= to_s, all > 0.
struct TimeToUse {
  double exposure_s = 0, from_s = 0, to_s = 0;
};

struct ResinRecord {
  std::string file;                       ///< where it was read from; empty for a new one
  std::vector<std::string> remarks = {};  ///< how it was chosen among others, as sentences; no part of the file
  struct Resin {
    std::string label, colour, kind, batch, opened;
    std::optional<double> density_g_per_ml, price_per_l;
  } resin;
  struct Printer {
    std::string label;
    std::optional<double> pitch_mm, lamp_power_percent, lamp_hours, irradiance_mw_per_cm2;
  } printer;
  struct Conditions {
    std::string date;  ///< ISO 8601, YYYY-MM-DD
    std::optional<double> resin_temp_c, humidity_percent;
  } conditions;
  double layer_height_mm = 0.05;
  bool layer_height_assumed = false;  ///< the file does not say; 0.05 mm is assumed
  std::vector<BracketReading> bracket;
  std::vector<CureDepthReading> cure_depth;
  std::vector<BaseReading> base;
  std::vector<SupersededReading> superseded;
  std::optional<TimeToUse> use;      ///< as stored; `time_to_use` (hairline/fit.hpp) gives it for any fit
  std::optional<CureModel> fit;      ///< with layer_height_mm copied in
  bool valid_range_assumed = false;  ///< the fit does not say its valid range; see `assumed_valid_range`
  std::string fitted_at, method;
  std::string source;  ///< the file as read, in JSON, so that unknown fields survive a rewrite
};

/// Where a hand-written fit leaves out valid_from_s or valid_to_s: these multiples of its bond time. Below the first
/// the thinnest wall that stands grows without limit, above the second everyday slots are long closed (common practice,
/// no source).
inline constexpr struct { double from = 1.05, to = 2.2; } assumed_valid_range;

/// Fails with not_found, unreadable, limit (over 4 MiB), broken (JSON), version, invalid (a field: its name, value, and
/// the allowed range, as listed in formats/resin-record.md).
Result<ResinRecord> read_record(const std::filesystem::path& path);
Result<ResinRecord> parse_record(const std::string& text, const std::string& file);
/// Record text with the known fields updated inside `record.source` and every unknown field kept. Ends with a line
/// break.
std::string write_record(const ResinRecord& record);
/// Writes aside and renames; the old file stays as it was on failure.
Result<void> save_record(const ResinRecord& record, const std::filesystem::path& path);

/// The fit, or an error that names the file and says how to get one.
Result<CureModel> fitted_model(const ResinRecord& record);

/// Shortest exposure at which a coupon stood: any look but `missing`, or any size read; none where none did.
std::optional<double> shortest_stood_s(const ResinRecord& record);

/// The record's date, YYYY-MM-DD: conditions.date, else the day of fitted_at; empty when undated.
std::string made_on(const ResinRecord& record);

/// Days from the record's date (`made_on`) to `today` (both YYYY-MM-DD); none when undated.
/// Negative when the record is dated after `today`.
std::optional<int> age_days(const ResinRecord& record, const std::string& today);

/// Days from 1970-01-01 to a date `YYYY-MM-DD` (a time after it, as in `2026-11-01T09:30`, is ignored); none: no date.
std::optional<int> day_number(std::string_view date);

}  // namespace hairline
