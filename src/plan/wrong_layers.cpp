/// Pictures that an export left out or mixed up (docs/verdicts.md, "Wrong pictures"). Bounds: common practice,
/// no source.
#include <algorithm>
#include <cmath>

#include "hairline/verdict.hpp"

namespace hairline {
namespace {

bool is_empty(const LayerRow& row) {
  return row.pieces == 0;
}

// Spots no larger than a tip: what is thinner than a pixel comes and goes in the masks, and that is no fault of theirs.
bool has_spots_only(const LayerRow& row) {
  constexpr double spot_mm2 = 0.02;
  return row.solid_mm2 < spot_mm2 * row.pieces;
}

// What only one of two neighbours has, as a share of the larger one.
double difference(const LayerRow& below, const LayerRow& above) {
  const double larger_mm2 = std::max(below.solid_mm2, above.solid_mm2);
  return larger_mm2 > 0 ? (below.solid_mm2 + above.solid_mm2 - 2 * above.contact_mm2) / larger_mm2 : 0;
}

// Only a slit: what it has, both neighbours have.
bool is_gap(const LayerRow& row, const LayerRow& above) {
  return row.solid_mm2 < above.solid_mm2 && std::min(row.contact_mm2, above.contact_mm2) > 0.95 * row.solid_mm2;
}

// Only rails or rungs: what both neighbours have, it has too, and not very much more.
bool is_rail(const LayerRow& below, const LayerRow& row, const LayerRow& above) {
  constexpr double most_more = 4;
  return row.contact_mm2 > 0.95 * below.solid_mm2 && above.contact_mm2 > 0.95 * above.solid_mm2 &&
         row.solid_mm2 < most_more * std::max(below.solid_mm2, above.solid_mm2);
}

bool is_strange(const std::vector<LayerRow>& rows, std::size_t i) {
  constexpr double unlike = 0.5, alike = 0.1, calm = 0.25;
  const LayerRow &below = rows[i - 1], &row = rows[i], &above = rows[i + 1];
  if (is_empty(below) || is_empty(row) || is_empty(above)) return false;
  if (is_gap(row, above) || is_rail(below, row, above)) return false;
  const double larger_mm2 = std::max(below.solid_mm2, above.solid_mm2);
  if (std::abs(below.solid_mm2 - above.solid_mm2) > alike * larger_mm2) return false;
  if (difference(below, row) < unlike || difference(row, above) < unlike) return false;
  return (i < 2 || difference(rows[i - 2], below) < calm) &&
         (i + 2 >= rows.size() || difference(above, rows[i + 2]) < calm);
}

}  // namespace

WrongLayers wrong_layers(const std::vector<LayerRow>& rows, const std::vector<FaintPart>& faint) {
  constexpr std::size_t most_strange = 3;
  WrongLayers wrong;
  const auto is_faint = [&](std::uint32_t layer) {
    return std::any_of(faint.begin(), faint.end(),
                       [layer](const FaintPart& part) { return part.from_layer <= layer && layer <= part.to_layer; });
  };
  const auto top = std::find_if_not(rows.rbegin(), rows.rend(), is_empty).base();
  for (auto row = std::find_if(rows.begin(), top, is_empty); row != top; row = std::find_if(row, top, is_empty)) {
    const auto above = std::find_if_not(row, top, is_empty);
    const bool spots = row != rows.begin() && has_spots_only(*(row - 1)) && has_spots_only(*above);
    for (; row != above; ++row)
      if (!spots && !is_faint(row->layer)) wrong.empty.push_back(row->layer);
  }
  for (std::size_t i = 1; i + 1 < rows.size(); ++i)
    if (is_strange(rows, i)) wrong.strange.push_back(rows[i].layer);
  if (wrong.strange.size() > most_strange) wrong.strange.clear();
  return wrong;
}

}  // namespace hairline
