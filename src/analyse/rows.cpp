#include "rows.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <tuple>

namespace hairline {
namespace {

PlaceMm place_mm(const auto& place, Pitch pitch, double z_mm) {
  return {(place.col + 0.5) * pitch.x_mm, (place.row + 0.5) * pitch.y_mm, z_mm};
}

std::uint64_t solid_px(const Pieces& pieces) {
  std::uint64_t area_px = 0;
  for (const Piece& piece : pieces.pieces) area_px += piece.area_px;
  return area_px;
}

void add_sides(const std::vector<double>& lengths_mm, double height_mm, std::vector<double>& sides_mm2) {
  sides_mm2.resize(lengths_mm.size());
  for (std::size_t i = 0; i < lengths_mm.size(); ++i) sides_mm2[i] += lengths_mm[i] * height_mm;
}

}  // namespace

LayerRow layer_row(const Job& job, std::uint32_t number, const Pieces& pieces, const ThinPlaces& thin) {
  const PrintedLayer& printed = job.layers[number - 1];
  const Pitch pitch = job.settings.pitch;
  LayerRow row;
  row.layer = number;
  row.height_mm = printed.height_mm;
  row.bottom_mm = printed.bottom_mm;
  row.exposure_s = printed.exposure_s;
  row.kind = printed.kind;
  row.pieces = static_cast<std::uint32_t>(pieces.pieces.size());
  row.solid_mm2 = static_cast<double>(solid_px(pieces)) * pitch.pixel_mm2();
  if (const auto wall = thinnest(thin.walls)) {
    row.thinnest_wall_mm = static_cast<double>(wall->width_mm);
    row.wall_at = place_mm(*wall, pitch, printed.bottom_mm);
  }
  if (const auto gap = thinnest(thin.gaps)) {
    row.thinnest_gap_mm = static_cast<double>(gap->width_mm);
    row.gap_at = place_mm(*gap, pitch, printed.bottom_mm);
  }
  return row;
}

double base_height_mm(const Job& job) {
  const std::size_t count = std::min<std::size_t>(job.settings.base_layers, job.layers.size());
  return count == 0 ? 0 : job.layers[count - 1].top_mm();
}

void add_layer(const Job& job, const LookedAt& now, const std::vector<Contact>& contacts, LayerSums& sums) {
  std::vector<LayerRow>& rows = sums.rows;
  rows[now.number - 1] = now.row;
  std::uint64_t contact_px = 0;
  for (const Contact& contact : contacts) contact_px += contact.overlap_px;
  if (now.number < rows.size())
    rows[now.number].contact_mm2 = static_cast<double>(contact_px) * job.settings.pitch.pixel_mm2();
  if (now.number == 1) rows[0].contact_mm2 = rows[0].solid_mm2;
  add_sides(now.thin.wall_lengths_mm, now.row.height_mm, sums.wall_mm2);
  add_sides(now.thin.gap_lengths_mm, now.row.height_mm, sums.gap_mm2);
  const std::uint64_t area_px = solid_px(now.pieces);
  sums.any_light = sums.any_light || now.brightest > 0;
  if (job.layers[now.number - 1].kind == LayerKind::normal) {
    sums.brightest = std::max(sums.brightest, now.brightest);
    sums.solid_in_normal = sums.solid_in_normal || area_px > 0;
  }
  if (area_px == 0 || area_px < sums.largest_px) return;
  sums.largest_px = area_px;
  sums.largest_box = bounds(now.solid);
}

void count_islands(const IslandTracker::Found& found, std::vector<LayerRow>& rows) {
  for (const Island& island : found.islands) rows[island.layer - 1].islands += 1;
  for (const Island& speck : found.specks) rows[speck.layer - 1].specks += 1;
}

PieceKey piece_key(std::uint32_t layer, std::uint64_t area_px, const BoxPx& box) {
  return {layer, area_px, box.x0, box.y0, box.x1, box.y1};
}

void note_starts(std::uint32_t number, const Mask& solid, const Pieces& pieces, const std::vector<Contact>& contacts,
                 Starts& starts) {
  std::vector<bool> rests(pieces.pieces.size());
  for (const Contact& contact : contacts) rests[contact.b] = true;
  for (std::uint32_t i = 0; i < rests.size(); ++i) {
    const Piece& piece = pieces.pieces[i];
    if (!rests[i] && piece.area_px >= least_island_px)
      starts.emplace(piece_key(number, piece.area_px, piece.box), middle_pixel(solid, pieces, i));
  }
}

std::vector<IslandRow> island_rows(const Job& job, const std::vector<Island>& islands, const Starts& starts,
                                   const std::vector<Propped>& propped) {
  const Pitch pitch = job.settings.pitch;
  std::set<PieceKey> held;
  for (const Propped& one : propped) held.insert(piece_key(one.layer, one.area_px, one.box));
  std::vector<IslandRow> rows;
  for (const Island& island : islands) {
    IslandRow row;
    const PieceKey piece = piece_key(island.layer, island.area_px, island.piece_box);
    row.held_by_fill = held.contains(piece);
    row.layer = island.layer;
    row.last_layer = island.last_layer;
    row.area_mm2 = static_cast<double>(island.area_px) * pitch.pixel_mm2();
    row.volume_mm3 = island.volume_mm3;
    row.height_mm = job.layers[island.layer - 1].bottom_mm;
    row.box = box_mm(island.body_box, pitch, row.height_mm, job.layers[island.last_layer - 1].top_mm());
    if (const auto at = starts.find(piece); at != starts.end()) row.start = place_mm(at->second, pitch, row.height_mm);
    row.joins_layer = island.joins_layer;
    rows.push_back(row);
  }
  return rows;
}

std::vector<FaintPart> faint_parts(const Job& job, const std::vector<FaintChain>& chains) {
  constexpr double least_mm = 0.5;
  std::vector<FaintPart> parts;
  for (const FaintChain& chain : chains) {
    const BoxMm box = box_mm(chain.box, job.settings.pitch, job.layers[chain.from_layer - 1].bottom_mm,
                             job.layers[chain.to_layer - 1].top_mm());
    if (box.to.z - box.from.z >= least_mm - 1e-9) parts.push_back({chain.from_layer, chain.to_layer, box});
  }
  return parts;
}

Report::Job job_summary(const Job& checked, const std::vector<LayerRow>& rows) {
  const JobSettings& settings = checked.settings;
  const std::vector<PrintedLayer>& layers = checked.layers;
  Report::Job job;
  job.file = checked.archive.path().string();
  job.title = settings.title;
  job.layers = static_cast<std::uint32_t>(layers.size());
  job.height_mm = layers.empty() ? 0 : layers.back().top_mm();
  job.duration_s = duration_s(settings, layers);
  double volume_mm3 = 0;
  for (const LayerRow& row : rows) volume_mm3 += row.solid_mm2 * row.height_mm;
  job.resin_ml = volume_mm3 / 1000;
  job.resin_g = job.resin_ml * settings.density_g_per_ml.value_or(assumed_density_g_per_ml);
  if (checked.against)
    if (const auto& price_per_l = checked.against->record.resin.price_per_l)
      job.resin_cost = job.resin_ml / 1000 * *price_per_l;
  job.normal_s = settings.normal_s;
  job.size = settings.size;
  job.pitch = settings.pitch;
  job.layer_height_mm = settings.height_mm;
  job.resin_label = settings.resin_label;
  job.printer_label = settings.printer_label;
  job.assumed = settings.assumed;
  job.remarks = settings.remarks;
  return job;
}

Growth growth_summary(const Job& job, const LayerSums& sums) {
  Growth growth;
  const double step_mm = job.asked.thickness.width_step_mm;
  for (std::size_t i = 0; i < sums.wall_mm2.size(); ++i) {
    WidthGrowth& width = growth.widths.emplace_back();
    width.drawn_mm = std::round(step_mm * static_cast<double>(i + 1) * 1e6) / 1e6;
    width.wall_mm2 = sums.wall_mm2[i];
    width.slot_mm2 = sums.gap_mm2[i];
  }
  if (!job.against) return growth;
  const CureModel& model = job.against->risk.model;
  add_printed_sizes(model, job.settings.height_mm, job.normal_s, growth);
  if (job.settings.base_layers > 0)
    growth.base_mm = growth_mm(model, job.settings.height_mm, job.layers.front().exposure_s);
  return growth;
}

BaseReport base_summary(const Job& job, const LayerSums& sums) {
  const JobSettings& settings = job.settings;
  BaseReport base;
  base.base_layers = settings.base_layers;
  base.stated = settings.base_s.has_value();
  base.base_s = settings.base_layers > 0 ? job.layers.front().exposure_s : job.normal_s;
  base.exposure_ratio = base.base_s / job.normal_s;
  base.contact_mm2 = sums.rows.front().solid_mm2;
  for (const LayerRow& row : sums.rows) {
    if (row.solid_mm2 <= base.largest_layer_mm2) continue;
    base.largest_layer_mm2 = row.solid_mm2;
    base.largest_layer = row.layer;
  }
  if (base.largest_layer > 0) {
    const PrintedLayer& printed = job.layers[base.largest_layer - 1];
    base.largest_box = box_mm(sums.largest_box, settings.pitch, printed.bottom_mm, printed.top_mm());
  }
  return base;
}

std::vector<std::string> stated_limits() {
  return {"one dose threshold, no oxygen or diffusion chemistry",
          "resin in gaps is taken to stay put between exposures (an upper bound for small gaps)", "no shrinkage",
          "no support mechanics beyond what is measured"};
}

}  // namespace hairline
