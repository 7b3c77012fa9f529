/// The resin record (formats/resin-record.md): what was measured for one resin on one printer, and the fit to it.
#pragma once
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

#include "hairline/model.hpp"
#include "hairline/result.hpp"

namespace hairline {

enum class Look : std::uint8_t { missing, under, slightly_under, crisp, slightly_over, over };
enum class BaseResult : std::uint8_t { lifted, held, welded };

/// What was seen on one coupon. Sizes in mm; unset where not read.
struct BracketReading {
  double exposure_s = 0;
  std::optional<double> thinnest_wall_mm, narrowest_slot_mm, thinnest_pin_mm, smallest_hole_mm, narrowest_flat_slot_mm;
  std::optional<Look> look;
  std::optional<double> reading_error_mm;
};
struct CureDepthReading {
  double exposure_s = 0, depth_mm = 0;
};
struct BaseReading {
  double base_s = 0;
  std::uint32_t layers = 0;
  BaseResult result = BaseResult::held;
};

struct ResinRecord {
  std::string file;  ///< where it was read from; empty for a new one
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
  std::vector<BracketReading> bracket;
  std::vector<CureDepthReading> cure_depth;
  std::vector<BaseReading> base;
  std::optional<CureModel> fit;  ///< with layer_height_mm copied in
  std::string fitted_at, method;
  nlohmann::ordered_json source;  ///< the file as read, so that unknown fields survive a rewrite
};

/// Fails with not_found, unreadable, broken (JSON), version, invalid (a field: its name, value, and the allowed range).
Result<ResinRecord> read_record(const std::filesystem::path& path);
Result<ResinRecord> parse_record(const std::string& text, const std::string& file);
/// Record text with the known fields updated inside `record.source` and every unknown field kept.
std::string write_record(const ResinRecord& record);
/// Writes aside and renames; the old file stays as it was on failure.
Result<void> save_record(const ResinRecord& record, const std::filesystem::path& path);

/// The fit, or an error that names the file and says how to get one.
Result<CureModel> fitted_model(const ResinRecord& record);

/// Days from the record's date (conditions.date, else fitted_at) to `today` (both YYYY-MM-DD); none when undated.
std::optional<int> age_days(const ResinRecord& record, const std::string& today);

}  // namespace hairline
