/// The report: one finished value, and its writers (terminal, JSON, CSV). Writers see nothing but this.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "hairline/plan.hpp"
#include "hairline/result.hpp"
#include "hairline/risk.hpp"
#include "hairline/settings.hpp"
#include "hairline/track.hpp"

namespace hairline {

enum class Verdict : std::uint8_t { clear, caution, hold };

/// One row of the per-layer tables. Unset: nothing thin was found.
struct LayerRow {
  std::uint32_t layer = 0;  ///< 1-based
  double height_mm = 0, bottom_mm = 0, exposure_s = 0;
  LayerKind kind = LayerKind::normal;
  double solid_mm2 = 0;
  double contact_mm2 = 0;  ///< with the layer before; of layer 1: with the plate
  std::uint32_t pieces = 0, islands = 0, specks = 0;
  std::optional<double> thinnest_wall_mm, thinnest_gap_mm;
  PlaceMm wall_at, gap_at;
};

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
    std::string text;          ///< one sentence, names what to change
    bool comes_off = false;    ///< the print may come off the plate: leads to `hold`
  };
  std::vector<Finding> findings;
};

struct Report {
  struct Job {
    std::string file, title;
    std::uint32_t layers = 0;
    double height_mm = 0, duration_s = 0, resin_ml = 0, resin_g = 0;
    double normal_s = 0;  ///< as the manifest says
    Size size;
    Pitch pitch;
    double layer_height_mm = 0;
    std::string resin_label, printer_label;
    std::vector<std::string> assumed;
  } job;
  struct Record {
    std::string file, resin, printer;
    std::optional<int> age_days;
    std::vector<std::string> notes;  ///< stale conditions, weak fit, ...
    CureModel model;
  };
  std::optional<Record> record;  ///< unset: measured only
  double exposure_s = 0;
  Verdict verdict = Verdict::clear;
  std::vector<std::string> reasons;  ///< plain sentences, gravest first
  std::vector<Detail> details;       ///< worst first
  Crumbs crumbs;
  std::vector<Fall> falls;
  std::vector<IslandRow> islands;  ///< biggest first in words, by layer here
  std::uint32_t speck_count = 0;
  BaseReport base;
  std::optional<Suggestion> suggestion;
  std::vector<LayerRow> layers;
  std::vector<std::string> limits;  ///< what the model leaves out, stated
};

/// JSON as formats/preflight-report.md: two-space indent, no NaN or infinity, bad UTF-8 replaced; same value, same bytes.
std::string to_json(const Report& report);
/// CSV (RFC 4180): a header line, one row per layer.
std::string to_csv(const Report& report);

struct TerminalStyle {
  bool colour = false;
  std::uint32_t columns = 80;      ///< wraps and aligns from 60 up
  std::uint32_t details = 10;      ///< listed at most; UINT32_MAX for all
};
/// The report for a person, ending in a line break.
std::string to_terminal(const Report& report, const TerminalStyle& style);

/// Details that are alike (same fate, width within a pixel, same layers), for readable lists.
struct DetailGroup {
  std::vector<std::uint32_t> ids;    ///< rising
  std::optional<double> spacing_mm;  ///< median distance between neighbours' centres, two or more
};
std::vector<DetailGroup> group_alike(const std::vector<Detail>& details, Pitch pitch);

/// "4 h 12 min", "55 s"; "9.6 mm at layer 193".
std::string duration_text(double seconds);
std::string to_string(Verdict verdict);
std::string to_string(Fate fate);

}  // namespace hairline
