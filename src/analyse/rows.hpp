/// From measures in pixels to the report's values in mm: no judgement here, only units and sums.
#pragma once
#include <map>
#include <tuple>
#include <vector>

#include "../track/faint.hpp"
#include "hairline/track.hpp"
#include "job.hpp"

namespace hairline {

/// One layer with everything that can be said of it alone.
struct LookedAt {
  std::uint32_t number = 0;
  Layer layer;
  Mask solid;
  Pieces pieces;
  ThinPlaces thin;
  LayerRow row;  ///< but for contact and islands, which the layers below decide
  std::vector<FaintSpot> faint;
  std::uint8_t brightest = 0;  ///< greatest mask value
};

/// The row of layer `number`, likewise.
LayerRow layer_row(const Job& job, std::uint32_t number, const Pieces& pieces, const ThinPlaces& thin);

/// What adds up over the layers.
struct LayerSums {
  std::vector<LayerRow> rows;  ///< of layers 1, 2, ...
  std::uint64_t largest_px = 0;
  BoxPx largest_box;  ///< of the largest layer
  bool any_light = false, solid_in_normal = false;
  std::uint8_t brightest = 0;             ///< greatest mask value of the normal layers
  std::vector<double> wall_mm2, gap_mm2;  ///< sides of walls and gaps by width, see ThinPlaces
};
/// Of the base layers together.
double base_height_mm(const Job& job);
/// Layers from the top down; `contacts` are those with the layer above.
void add_layer(const Job& job, const LookedAt& now, const std::vector<Contact>& contacts, LayerSums& sums);

/// Fills in island and speck counts.
void count_islands(const IslandTracker::Found& found, std::vector<LayerRow>& rows);

/// A piece by its layer, area and box.
using PieceKey = std::tuple<std::uint32_t, std::uint64_t, std::uint32_t, std::uint32_t, std::uint32_t, std::uint32_t>;
PieceKey piece_key(std::uint32_t layer, std::uint64_t area_px, const BoxPx& box);
/// A pixel of each piece with nothing beneath it, but of specks.
using Starts = std::map<PieceKey, PixelPx>;
/// Of the pieces of layer `number`; `contacts` are those of the layer below with them.
void note_starts(std::uint32_t number, const Mask& solid, const Pieces& pieces, const std::vector<Contact>& contacts,
                 Starts& starts);

/// `propped`: pieces that stand on gaps which close.
std::vector<IslandRow> island_rows(const Job& job, const std::vector<Island>& islands, const Starts& starts,
                                   const std::vector<Propped>& propped);

/// Those of at least 0.5 mm.
std::vector<FaintPart> faint_parts(const Job& job, const std::vector<FaintChain>& chains);

Report::Job job_summary(const Job& job, const std::vector<LayerRow>& rows);

/// How much larger than drawn the job prints, and how much of it is how thin.
Growth growth_summary(const Job& job, const LayerSums& sums);

/// Contact, largest layer and exposure of the base.
BaseReport base_summary(const Job& job, const LayerSums& sums);

/// What the model leaves out, in words.
std::vector<std::string> stated_limits();

}  // namespace hairline
