/// What is known at the end, weighed: findings about the base, and the verdict with its reasons (docs/verdicts.md).
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "hairline/risk.hpp"
#include "hairline/settings.hpp"

namespace hairline {

enum class Verdict : std::uint8_t { clear, caution, hold };

/// An island with its places in mm, ready to print.
struct IslandRow {
  std::uint32_t layer = 0, last_layer = 0;
  double area_mm2 = 0, volume_mm3 = 0, height_mm = 0;  ///< height_mm: above the plate, where it begins
  BoxMm box;
  std::optional<std::uint32_t> joins_layer;
};

/// What holds the print on the plate.
struct BaseReport {
  double contact_mm2 = 0, largest_layer_mm2 = 0;
  std::uint32_t largest_layer = 0;
  BoxMm largest_box;
  double exposure_ratio = 1;  ///< base to normal exposure
  std::uint32_t base_layers = 0;
  double base_s = 0;
  std::optional<double> flare_mm, fuse_mm3, vanish_mm3;  ///< need a record
  struct Finding {
    std::string text;        ///< one sentence, names what to change
    bool comes_off = false;  ///< the print may come off the plate: leads to `hold`
  };
  std::vector<Finding> findings;
};

/// Bounds of the base findings (common practice, no source).
struct BaseBounds {
  double least_ratio = 6, most_ratio = 16;  ///< base to normal exposure
  double least_share = 0.1;                 ///< base contact to largest layer
};

/// Appends the findings that the base's numbers call for.
void judge_base(BaseReport& base, double normal_s, const BaseBounds& bounds = {});

/// Bounds of `hold` (docs/verdicts.md).
struct VerdictBounds {
  double least_chance = 0.5;
  double least_carried_mm3 = 1, least_island_mm2 = 1, least_island_mm3 = 1;
  double most_lost_share = 0.5;  ///< of the whole print: beyond it the print as such fails
};

struct Evidence {
  const std::vector<Detail>& details;
  const Crumbs& crumbs;
  const std::vector<Fall>& falls;
  const std::vector<IslandRow>& islands;
  std::uint32_t speck_count = 0;
  const BaseReport& base;
  double exposure_s = 0;
  double solid_mm3 = 0;  ///< of the whole job
};
struct Judgement {
  Verdict verdict = Verdict::clear;
  std::vector<std::string> reasons;  ///< plain sentences, gravest first
};
Judgement judge(const Evidence& evidence, const VerdictBounds& bounds = {});

/// "layers 811 to 974 (40.5 to 48.7 mm up)", "layer 12 (0.6 mm up)"; "x 12.3, y 4.0 mm".
std::string layers_text(std::uint32_t from_layer, std::uint32_t to_layer, const BoxMm& box);
std::string place_text(const BoxMm& box);

}  // namespace hairline
