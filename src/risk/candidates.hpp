/// From ended parts to details: which parts may be lost, what is known of each at its time, and what a look at it
/// needs.
#pragma once
#include <vector>

#include "../base/thresholds.hpp"
#include "runs_near.hpp"
#include "standing.hpp"

namespace hairline::risk {

CloseupScale scale_of(const RiskContext& context);

/// A part on its way to a detail.
struct Candidate {
  std::uint32_t part = 0;  ///< index of TimeParts::parts
  Detail detail;
  BoxVoxels window;                   ///< window_of(part)
  bool carries = false;               ///< carries_enough(part)
  bool look = false;                  ///< to be looked at closely
  bool described = false;             ///< by `describe`
  std::optional<std::uint32_t> like;  ///< index of one that is looked at in its place
};

/// Everything about one time once all layers have gone by.
struct TimeParts {
  std::uint32_t time = 0;        ///< index of RiskContext::times_s
  bool judged = false;           ///< the job's own time: all details are wanted, not only those that may be lost
  std::vector<EndedPart> parts;  ///< in the order in which they ended: that of falling from_layer
  std::vector<Candidate> candidates = {};
  std::uint32_t not_looked_at = 0;  ///< candidates that should be
};

/// The part's depth: volume over front, its extent where it has none.
double depth_mm(const Part& part, const RiskContext& context);
/// Of a part, or of a body that falls.
bool is_crumb(const auto& solid, const RiskSettings& settings) {
  if (solid.volume_mm3 < settings.least_detail_mm3 * (1 - tolerance)) return true;
  return solid.from_layer == solid.to_layer && solid.volume_mm3 < settings.least_flat_detail_mm3 * (1 - tolerance);
}
bool is_deep(double depth_mm, const RiskSettings& settings);
/// Does so much stand on a part, or does something come loose with it that is no crumb, that it counts, however flat or
/// small it is itself?
bool carries_enough(const EndedPart& part, const RiskSettings& settings);
/// May the part turn out to be lost, by its depth or by what it may weld? (What it carries is another question.)
bool needs_look(Fate fate, const Part& part, const RiskContext& context);
/// Its box; of a very large part only what lies around its seed.
BoxVoxels window_of(const Part& part);
/// All of a print that a look at the part needs to know the lots, and the solid, of.
BoxVoxels lots_wanted(const Part& part, const RiskContext& context);
BoxVoxels solid_wanted(Fate fate, const Part& part, const RiskContext& context);
/// Is the solid of all that `lots_wanted` gives kept?
bool is_solid_kept(Fate fate, const Part& part, const RiskContext& context);
/// The layers of either, of any part from `from_layer` to `to_layer`; what else the box says is of no meaning.
BoxVoxels layers_wanted(std::uint32_t from_layer, std::uint32_t to_layer, const RiskContext& context);

/// The part's voxels in its window; `runs` covers that.
VoxelBits voxels_of(const Part& part, std::uint32_t time, const BoxVoxels& window, const RunsNear& runs);
/// The worse one by extent and chance (before a description by its state), of like ones by their place: the same in
/// every order of work.
bool comes_first(const Detail& a, const Detail& b);

/// Lists the parts of each time that may be lost (of the job's own time: all), and chooses those to look at.
void list_candidates(std::vector<TimeParts>& times, const RiskContext& context);

/// Is it lost, by what was seen of it?
bool is_lost(const Candidate& one, const RiskSettings& settings);

/// Fills in critical exposure, chance and width. `own`: voxels_of its part; `runs` covers its window.
void describe(const TimeParts& parts, Candidate& one, const VoxelBits& own, const RunsNear& runs,
              const RiskContext& context);
/// The same of what is lost and was not described when it was looked at; of all at the job's own time.
void describe_lost(std::vector<TimeParts>& times, const RunStore& store, const RiskContext& context);

}  // namespace hairline::risk
