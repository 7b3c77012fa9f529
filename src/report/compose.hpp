/// From measures in pixels to the report's values in mm: no judgement here, only units and sums.
#pragma once
#include <vector>

#include "hairline/report.hpp"
#include "hairline/stale.hpp"

namespace hairline {

/// One layer's row, but for contact and islands, which the layers below decide.
LayerRow layer_row(std::uint32_t number, const LayerPlan& plan, Pitch pitch, const Pieces& pieces,
                   const ThinPlaces& thin);

/// Fills in island and speck counts.
void count_islands(const IslandTracker::Found& found, std::vector<LayerRow>& rows);

/// `propped`: pieces that stand on gaps which close.
std::vector<IslandRow> island_rows(const std::vector<Island>& islands, const std::vector<Propped>& propped, Pitch pitch,
                                   const std::vector<LayerPlan>& layers);

Report::Job job_summary(const std::string& file, const JobSettings& settings, const std::vector<LayerPlan>& layers,
                        const std::vector<LayerRow>& rows);

/// Contact, largest layer and exposure of the base; `largest_box_px` is the box of the largest layer.
BaseReport base_summary(const JobSettings& settings, double normal_s, const std::vector<LayerPlan>& layers,
                        const std::vector<LayerRow>& rows, const BoxPx& largest_box_px);

/// The record's facts, and what is doubtful about using it for this job tonight; `model` is the one judged by.
Report::Record record_summary(const ResinRecord& record, const JobContext& tonight, double normal_s,
                              const CureModel& model);

/// What the model leaves out, in words.
std::vector<std::string> stated_limits();

}  // namespace hairline
