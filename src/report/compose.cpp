#include "compose.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "hairline/fit.hpp"
#include "hairline/stale.hpp"

namespace hairline {
namespace {

PlaceMm place_mm(const ThinPlace& place, Pitch pitch, double z_mm) {
  return {(place.col + 0.5) * pitch.x_mm, (place.row + 0.5) * pitch.y_mm, z_mm};
}

double top_mm(const LayerPlan& plan) {
  return plan.bottom_mm + plan.height_mm;
}

}  // namespace

LayerRow layer_row(std::uint32_t number, const LayerPlan& plan, Pitch pitch, const Pieces& pieces,
                   const ThinPlaces& thin) {
  LayerRow row;
  row.layer = number;
  row.height_mm = plan.height_mm;
  row.bottom_mm = plan.bottom_mm;
  row.exposure_s = plan.exposure_s;
  row.kind = plan.kind;
  row.pieces = static_cast<std::uint32_t>(pieces.pieces.size());
  std::uint64_t area_px = 0;
  for (const Piece& piece : pieces.pieces) area_px += piece.area_px;
  row.solid_mm2 = static_cast<double>(area_px) * pitch.pixel_mm2();
  if (const auto wall = thinnest(thin.walls)) {
    row.thinnest_wall_mm = static_cast<double>(wall->width_mm);
    row.wall_at = place_mm(*wall, pitch, plan.bottom_mm);
  }
  if (const auto gap = thinnest(thin.gaps)) {
    row.thinnest_gap_mm = static_cast<double>(gap->width_mm);
    row.gap_at = place_mm(*gap, pitch, plan.bottom_mm);
  }
  return row;
}

void count_islands(const IslandTracker::Found& found, std::vector<LayerRow>& rows) {
  for (const Island& island : found.islands) rows[island.layer - 1].islands += 1;
  for (const Island& speck : found.specks) rows[speck.layer - 1].specks += 1;
}

std::vector<IslandRow> island_rows(const std::vector<Island>& islands, const std::vector<Propped>& propped, Pitch pitch,
                                   const std::vector<LayerPlan>& layers) {
  std::vector<IslandRow> rows;
  for (const Island& island : islands) {
    IslandRow row;
    row.held_by_fill = std::any_of(propped.begin(), propped.end(), [&](const Propped& piece) {
      return piece.layer == island.layer && piece.area_px == island.area_px && piece.box == island.piece_box;
    });
    row.layer = island.layer;
    row.last_layer = island.last_layer;
    row.area_mm2 = static_cast<double>(island.area_px) * pitch.pixel_mm2();
    row.volume_mm3 = island.volume_mm3;
    row.height_mm = layers[island.layer - 1].bottom_mm;
    row.box = box_mm(island.body_box, pitch, row.height_mm, top_mm(layers[island.last_layer - 1]));
    row.joins_layer = island.joins_layer;
    rows.push_back(row);
  }
  return rows;
}

Report::Job job_summary(const std::string& file, const JobSettings& settings, const std::vector<LayerPlan>& layers,
                        const std::vector<LayerRow>& rows) {
  Report::Job job;
  job.file = file;
  job.title = settings.title;
  job.layers = static_cast<std::uint32_t>(layers.size());
  job.height_mm = layers.empty() ? 0 : top_mm(layers.back());
  job.duration_s = duration_s(settings, layers);
  double volume_mm3 = 0;
  for (const LayerRow& row : rows) volume_mm3 += row.solid_mm2 * row.height_mm;
  job.resin_ml = volume_mm3 / 1000;
  job.resin_g = job.resin_ml * settings.density_g_per_ml.value_or(assumed_density_g_per_ml);
  job.normal_s = settings.normal_s;
  job.size = settings.size;
  job.pitch = settings.pitch;
  job.layer_height_mm = settings.height_mm;
  job.resin_label = settings.resin_label;
  job.printer_label = settings.printer_label;
  job.assumed = settings.assumed;
  return job;
}

BaseReport base_summary(const JobSettings& settings, double normal_s, const std::vector<LayerPlan>& layers,
                        const std::vector<LayerRow>& rows, const BoxPx& largest_box_px) {
  BaseReport base;
  base.base_layers = settings.base_layers;
  base.stated = settings.base_s.has_value() || settings.base_layers > 0;
  base.base_s = settings.base_layers > 0 ? layers.front().exposure_s : normal_s;
  base.exposure_ratio = base.base_s / normal_s;
  base.contact_mm2 = rows.front().solid_mm2;
  for (const LayerRow& row : rows) {
    if (row.solid_mm2 <= base.largest_layer_mm2) continue;
    base.largest_layer_mm2 = row.solid_mm2;
    base.largest_layer = row.layer;
  }
  if (base.largest_layer > 0) {
    const LayerPlan& plan = layers[base.largest_layer - 1];
    base.largest_box = box_mm(largest_box_px, settings.pitch, plan.bottom_mm, top_mm(plan));
  }
  return base;
}

Report::Record record_summary(const ResinRecord& record, const JobContext& tonight, double normal_s,
                              const CureModel& model) {
  Report::Record summary;
  summary.file = record.file;
  summary.resin = record.resin.label;
  summary.printer = record.printer.label;
  summary.model = model;
  if (!tonight.today.empty()) summary.age_days = age_days(record, tonight.today);
  if (normal_s < model.valid_from_s - 1e-9 || normal_s > model.valid_to_s + 1e-9) {
    summary.doubts.push_back(
        fmt::format("{:.2f} s lies outside the times the record covers ({:.2f} to {:.2f} s): what is said of it is a "
                    "guess.",
                    normal_s, model.valid_from_s, model.valid_to_s));
  }
  for (std::string& doubt : staleness(record, tonight)) summary.doubts.push_back(std::move(doubt));
  if (std::string weak = weakness(record); !weak.empty()) summary.doubts.push_back(std::move(weak));
  summary.notes = left_unsaid(record, tonight);
  if (!model.log_covariance) {
    summary.notes.push_back("The record states no uncertainty of its own; chances rest on the spread of dose alone.");
  }
  return summary;
}

std::vector<std::string> stated_limits() {
  return {"one dose threshold, no oxygen or diffusion chemistry",
          "resin in gaps is taken to stay put between exposures (an upper bound for small gaps)", "no shrinkage",
          "no support mechanics beyond what is measured"};
}

}  // namespace hairline
