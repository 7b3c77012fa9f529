/// The report: one finished value, and what is made of it (document, JSON, CSV), which sees nothing but this.
#pragma once
#include <cstdint>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "hairline/document.hpp"
#include "hairline/files.hpp"
#include "hairline/growth.hpp"
#include "hairline/plan.hpp"
#include "hairline/record.hpp"
#include "hairline/result.hpp"
#include "hairline/risk.hpp"
#include "hairline/settings.hpp"
#include "hairline/verdict.hpp"

namespace hairline {

struct Report {
  struct Job {
    std::string file, title;
    std::uint32_t layers = 0;
    double height_mm = 0, duration_s = 0, resin_ml = 0, resin_g = 0;
    std::optional<double> resin_cost;  ///< by the record's price of a litre, in its currency; unset: no price known
    double normal_s = 0;               ///< as the manifest says
    Size size;
    Pitch pitch;
    double layer_height_mm = 0;
    std::string resin_label, printer_label;
    std::vector<std::string> assumed;
    std::vector<std::string> remarks = {};  ///< how the archive was read; not in JSON, which is about the print
  } job;
  struct Record {
    std::string file, resin, printer;
    std::optional<int> age_days;
    std::vector<std::string> notes;   ///< what is worth knowing
    std::vector<std::string> doubts;  ///< weak, stale, out of its range: these count for the verdict and come first
    CureModel model;
    /// Coupons of which a wall, slot, pin or hole was read, at the times they would have by `model`.
    std::vector<BracketReading> readings;
  };
  std::optional<Record> record;  ///< unset: measured only
  double exposure_s = 0;
  Verdict verdict = Verdict::clear;
  std::vector<std::string> reasons;  ///< plain sentences, gravest first
  std::optional<Bulk> bulk, base_bulk;
  double bulk_lost_mm3 = 0;
  bool whole_fails = false;     ///< the print as a whole fails: no details are listed
  std::vector<Detail> details;  ///< in the order of their ids
  Rounding rounding;
  Crumbs crumbs;
  std::vector<Fall> falls;
  std::vector<IslandRow> islands;  ///< biggest first in words, by layer here
  std::uint32_t speck_count = 0;
  std::vector<FaintPart> faint;  ///< lowest first
  BaseReport base;
  std::optional<Growth> growth;  ///< unset in files that came before it
  std::optional<Suggestion> suggestion;
  std::vector<LayerRow> layers;
  std::vector<std::string> limits;  ///< what the model leaves out, stated
};

/// JSON as formats/preflight-report.md: two-space indent, no NaN or infinity, bad UTF-8 replaced; same value, same
/// bytes.
std::string to_json(const Report& report);
/// The same part by part, for a night's job may have a hundred thousand details. After the sink's first false nothing
/// more is handed out.
void write_json(const Report& report, const TextSink& sink);
/// The report that such a text holds (docs: formats/preflight-report.md). What the file does not say stays as it is in
/// an empty report (the covariance of the record's fit), and all findings about the base come off or none. Written
/// again it gives the same bytes. Fails with limit, broken (no JSON), version, invalid (the first field that is missing
/// or wrong, by its path: "details[3].box_mm", counted from 1).
Result<Report> parse_report(const std::string& text, const std::string& file);
/// The same of a file; fails with not_found, unreadable and limit (over 1 GiB) too.
Result<Report> read_report(const std::filesystem::path& path);
/// CSV (RFC 4180): a header line, one row per layer.
std::string to_csv(const Report& report);

/// The report for a person; at a `style.columns` so wide, the answer and the lists below it keep to their lines.
Document say_report(const Report& report, const TerminalStyle& style);
/// Only the losses against exposure time, as a table with every step, and the suggestion.
Document say_sweep(const Report& report);

/// Sentences of it by themselves: whether the print may be started; which time to set and what that changes.
std::string verdict_sentence(const Report& report);
std::string time_text(const Report& report);
/// What is lost at a time, as a clause: "no part missing, 8 gaps closed", "nothing", "the whole print".
std::string lost_text(const SweepPoint& point);

/// Details that are alike (same fate, state, lost or not, base or not, width within a pixel, same layers), for readable
/// lists.
struct DetailGroup {
  std::vector<std::uint32_t> ids;    ///< rising
  std::optional<double> spacing_mm;  ///< median distance between neighbours' centres, two or more
};
std::vector<DetailGroup> group_alike(const std::vector<Detail>& details, Pitch pitch);

/// The sweep as CSV (RFC 4180): a header line, one row per exposure; the header alone without a suggestion.
std::string to_sweep_csv(const Report& report);

/// One line for a progress bar, shorter than `columns`: bar, layers done, layers per second, time left.
std::string progress_text(std::uint32_t done, std::uint32_t total, double elapsed_s, std::uint32_t columns);

/// "4 h 12 min", "6 min 5 s", "55 s".
std::string duration_text(double seconds);
std::string to_string(Verdict verdict);
std::string to_string(Fate fate);

}  // namespace hairline
