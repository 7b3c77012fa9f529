/// What is known at the end, weighed: findings about the base, and the verdict with its reasons (docs/verdicts.md).
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "hairline/growth.hpp"
#include "hairline/record.hpp"
#include "hairline/risk.hpp"

namespace hairline {

enum class Verdict : std::uint8_t { clear, caution, hold };

/// An island with its places in mm, ready to print.
struct IslandRow {
  std::uint32_t layer = 0, last_layer = 0;
  double area_mm2 = 0, volume_mm3 = 0, height_mm = 0;  ///< height_mm: above the plate, where it begins
  BoxMm box;                                           ///< of the body it grows into, until that joins
  std::optional<PlaceMm> start;  ///< a place of its first piece, at `height_mm`; unset in reports of older versions
  std::optional<std::uint32_t> joins_layer;
  bool held_by_fill = false;  ///< it stands over a gap that closes onto solid or the plate: a note, no reason
  /// Where it begins, as a box without extent.
  BoxMm start_box() const { return start ? BoxMm{*start, *start} : box; }
};

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

/// A part thinner than a pixel, of which the masks show only grey: it will hardly cure, whatever the time.
struct FaintPart {
  std::uint32_t from_layer = 0, to_layer = 0;
  BoxMm box;
};

/// Layers whose pictures are hardly meant so; numbers are rising.
struct WrongLayers {
  std::vector<std::uint32_t> empty;    ///< without anything solid, below one that has something
  std::vector<std::uint32_t> strange;  ///< like neither neighbour, while those are like each other
  bool none() const { return empty.empty() && strange.empty(); }
};
/// `rows`: of layers 1, 2, ... Of more than three strange ones the shape is so, and none is named. Layers on which
/// something faint is are not empty.
WrongLayers wrong_layers(const std::vector<LayerRow>& rows, const std::vector<FaintPart>& faint);

/// What holds the print on the plate.
struct BaseReport {
  double contact_mm2 = 0, largest_layer_mm2 = 0;
  std::uint32_t largest_layer = 0;
  BoxMm largest_box;
  double exposure_ratio = 1;  ///< base to normal exposure
  std::uint32_t base_layers = 0;
  double base_s = 0;
  bool stated = true;  ///< false: the job does not say its base exposure, so that is not judged
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
  std::uint32_t most_layers = 10;           ///< base layers, where they are over most_mm high
  double most_mm = 1;
};
inline constexpr BaseBounds base_bounds;

/// What the base exposure is weighed against.
struct BaseTimes {
  double normal_s = 0;                ///< the job's normal exposure
  double set_s = 0;                   ///< the one that is suggested; the job's own where none is
  std::vector<BaseReading> readings;  ///< of the record
  double bonds_from_s = 0;            ///< least base exposure that cures the base's own bulk for sure
  double height_mm = 0;               ///< of the base layers together; wanted by judge_base
};

/// The base exposure that goes with a normal one, s, whole seconds: ten times it, held inside what base readings allow.
double usual_base_s(double normal_s, const std::vector<BaseReading>& readings);

/// The base exposure to set instead of `base_s`, whole seconds. Unset where `base_s` is sound beside the suggested
/// exposure: its ratio to that lies within the bounds, or the record's readings say that such a base held; and its bulk
/// bonds.
std::optional<double> base_to_set(double base_s, const BaseTimes& times);

/// Appends the findings that the base's numbers call for; what the suggested exposure mends is none. A base exposure
/// that the job does not state is not judged; its contact with the plate is.
void judge_base(BaseReport& base, const BaseTimes& times);

/// Is it no thin part, but a wide one that is grey in the masks? No wall was measured in it, so its width is that of a
/// wall of equal light, and it fills more than half of a box over five times as wide.
bool is_grey(const Detail& detail, const CureModel& model);

/// Normal layers to which an exception of the job gives another time than the others, and the first one's time.
struct OwnTime {
  std::uint32_t from_layer = 0, to_layer = 0;
  double exposure_s = 0;
};
/// Does an exception give a layer (with `exposure_s` and `kind`) less than `normal_s`, so that more vanishes, or more,
/// so that more closes?
bool has_own_time(const auto& layer, Fate fate, double normal_s) {
  const double share = layer.exposure_s / normal_s;
  return layer.kind == LayerKind::normal && (fate == Fate::vanish ? share <= 0.99 : share >= 1.01);
}
/// Of a detail's layers those for which it does; unset where none. `layers`: 1, 2, ...
std::optional<OwnTime> own_time(const Detail& detail, const auto& layers, double normal_s) {
  std::optional<OwnTime> found;
  for (std::uint32_t n = detail.from_layer; n <= detail.to_layer && n <= layers.size(); ++n) {
    const auto& layer = layers[n - 1];
    if (!has_own_time(layer, detail.fate, normal_s)) continue;
    if (!found) found = OwnTime{n, n, layer.exposure_s};
    found->to_layer = n;
  }
  return found;
}

/// Bounds of the verdict (docs/verdicts.md).
struct VerdictBounds {
  double hold_bulk_chance = 0.01, caution_bulk_chance = sure_bulk_chance;
  double most_risked_mm3 = 1;  ///< chance x carried volume of a `may` detail; volume of a fall
  double least_island_mm2 = 1, least_island_mm3 = 1;
  double most_vanishing = 0.02;  ///< share of the normal layers' volume
  double hold_deep_crumbs_mm3 = 1, caution_deep_crumbs_mm3 = 0.01;
  double caution_crumb_extent_mm = 0.5;  ///< of a deep one
};
inline constexpr VerdictBounds verdict_bounds;

/// Are what is too small to list and yet deep so much, or so long, that it will be seen?
bool are_seen(const Crumbs& crumbs);
/// At least 1 mm2 or 1 mm3, and not held by fill: a reason to hold.
bool is_grave(const IslandRow& island);
/// Volume of those under the bounds that join nothing: it comes loose in the vat.
double small_loose_mm3(const std::vector<IslandRow>& islands);
/// Does so large a share of the normal layers not cure, in whatever pieces, that the print should not be started?
bool is_much_uncured(double share);

struct Evidence {
  const RiskFound* risk = nullptr;       ///< null: measured only
  const RiskContext* context = nullptr;  ///< what `risk` was found in; null with it
  const std::vector<IslandRow>& islands;
  const std::vector<FaintPart>& faint;
  const BaseReport& base;
  bool nothing_solid = false;              ///< light in the normal layers, but nothing of value 128 or more
  std::uint32_t brightest_value = 255;     ///< greatest mask value of the normal layers
  const std::vector<std::string>& doubts;  ///< about the record: weak, stale, out of its range; sentences
  const std::vector<LayerRow>& layers;
};
struct Judgement {
  Verdict verdict = Verdict::clear;
  std::vector<std::string> reasons;  ///< plain sentences, gravest first
};
Judgement judge(const Evidence& evidence);

/// What is said of slots and holes of the job, wider than any of the list that closes, that stay open but print over a
/// third narrower than drawn (docs/growth.md, Findings); for information, no part of the verdict.
std::vector<std::string> tight_gaps(const Growth& growth, const std::vector<Detail>& details);

}  // namespace hairline
