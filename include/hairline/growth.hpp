/// Growth in closed form: how much larger or smaller than drawn things print (docs/growth.md).
///
/// An edge prints where the light, settled over a tall body, reaches the fuse threshold, that is where the light of one
/// layer is `edge_share` = T / t, with T the fuse time at the job's layer height. Source: threshold model as in Gibson,
/// Rosen, Stucker, Additive Manufacturing Technologies, ch. 4; forms derived from the blur's integrals. All sizes in mm
/// as drawn, all times in seconds.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "hairline/model.hpp"

namespace hairline {

/// Share of full light at which an edge of a tall body of layers `height_mm` prints at `exposure_s`: T / t, over 0;
/// from 1 on nothing prints.
double edge_share(const CureModel& model, double height_mm, double exposure_s);

/// How far an upright edge prints outside the drawn one, mm (negative: inside). Unset where nothing prints.
std::optional<double> growth_mm(const CureModel& model, double height_mm, double exposure_s);

/// Light of one layer, 0..1, at `away_mm` (0 or more) from the middle of a wall `size_mm` thick, and from the axis of a
/// round pin of that diameter. Of a slot or a hole it is one minus that.
double wall_light_at(const CureModel& model, double size_mm, double away_mm);
double pin_light_at(const CureModel& model, double size_mm, double away_mm);

/// Printed sizes, mm, to a thousandth of a mm and better. A wall or pin is unset where it vanishes (its middle does not
/// reach the bond time, or not even the share at which an edge prints), a slot or hole where it closes.
std::optional<double> printed_wall_mm(const CureModel& model, double height_mm, double exposure_s, double size_mm);
std::optional<double> printed_slot_mm(const CureModel& model, double height_mm, double exposure_s, double size_mm);
std::optional<double> printed_pin_mm(const CureModel& model, double height_mm, double exposure_s, double size_mm);
std::optional<double> printed_hole_mm(const CureModel& model, double height_mm, double exposure_s, double size_mm);

/// One drawn width: what prints, and how much of the job is that thin.
struct WidthGrowth {
  double drawn_mm = 0;
  std::optional<double> wall_mm, slot_mm, pin_mm, hole_mm;  ///< printed; unset too where there is no record
  double wall_mm2 = 0, slot_mm2 = 0;                        ///< area of one side of the job's walls and gaps
};

struct Growth {
  std::optional<double> normal_mm, base_mm;  ///< a side, in normal and base layers; unset: no record, no such layers
  std::vector<WidthGrowth> widths;           ///< drawn sizes rising in even steps
  std::vector<std::string> findings;         ///< sentences, see `tight_gaps`
};

/// Fills in what prints at `exposure_s` for every width that stands in `growth`, and `normal_mm`.
void add_printed_sizes(const CureModel& model, double height_mm, double exposure_s, Growth& growth);

}  // namespace hairline
