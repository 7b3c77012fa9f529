#include "close_looks.hpp"

#include <oneapi/tbb/parallel_for.h>
#include <oneapi/tbb/parallel_for_each.h>

#include <algorithm>
#include <cmath>
#include <span>

#include "boxes.hpp"
#include "hairline/memory.hpp"

namespace hairline::risk {
namespace {

struct Look {
  const TimeParts* parts;
  Candidate* candidate;
  BoxVoxels solid, lots;  // what it needs of both
  bool deep;              // else it is looked at only for what it may weld, or how far it reaches
};

// Looks whose boxes overlap share what is worked out of the solid around them.
struct Site {
  Fate fate;
  bool deep;
  BoxVoxels box, lots;
  std::vector<Look*> looks;
  VoxelBits solid;
};

constexpr std::uint64_t most_site_voxels = std::uint64_t{1} << 24;  // larger ones hold too many runs at once

// Joined while that makes less to work on; from the top down, so that those of a batch share layers.
std::vector<Site> sites_of(std::vector<Look>& looks) {
  std::vector<Site> sites;
  for (Look& look : looks) {
    const Fate fate = look.candidate->detail.fate;
    Site* best = nullptr;
    for (Site& site : sites) {
      if (site.fate != fate || site.deep != look.deep) continue;
      const std::uint64_t together = around_both(site.box, look.solid).voxels();
      if (together > site.box.voxels() + look.solid.voxels() || together > most_site_voxels) continue;
      best = &site;
      break;
    }
    if (best == nullptr) best = &sites.emplace_back(Site{fate, look.deep, look.solid, look.lots, {}, {}});
    best->box = around_both(best->box, look.solid);
    best->lots = around_both(best->lots, look.lots);
    best->looks.push_back(&look);
  }
  std::stable_sort(sites.begin(), sites.end(),
                   [](const Site& a, const Site& b) { return a.box.to_layer > b.box.to_layer; });
  return sites;
}

// What will flip, and what may with it.
VoxelBits goes(const RunsNear& runs, std::uint32_t time, bool may, const BoxVoxels& box) {
  VoxelBits out(box);
  runs.each(time, box, [&](const StoredLayer& layer, const RiskRun& run, Lot lot) {
    if (lot == Lot::will || may) out.set(layer.number, static_cast<int>(run.row), run.begin, run.end);
  });
  return out;
}

// Fills in what decides whether the part is lost.
void look_into(Closeup& at, const Look& look, const RunsNear& runs, const RiskContext& context) {
  const CloseupScale scale = scale_of(context);
  const Part& part = look.parts->parts[look.candidate->part].part;
  Detail& detail = look.candidate->detail;
  const std::uint32_t time = look.parts->time;
  if (!at.vanish && part.between_two()) {
    if (at.may) at.filled = goes(runs, time, false, weld_box(at.box, scale));
    detail.welds = welds(at, scale);
  }
  const bool judged = look.parts->judged;
  const double lost_share = context.settings.lost_share, lost_reach_mm = context.settings.lost_reach_mm;
  const auto reach = [&](double enough_mm) {
    if (at.goes.bits().empty()) at.goes = goes(runs, time, at.may, lots_box(at.box, scale));
    return reach_mm(at, scale, enough_mm).value_or(std::max(detail.extent_mm, lost_reach_mm));
  };
  if (!look.deep) {
    if (at.vanish) detail.reach_mm = reach(judged ? INFINITY : lost_reach_mm);
    if (detail.reach_mm && !at_least(*detail.reach_mm, lost_reach_mm)) detail.reach_mm.reset();
    return;
  }
  if (!at.vanish && in_closed_cavity(at, scale)) {
    detail.depth_mm = 0;
    return;
  }
  if (at.may) at.goes = goes(runs, time, at.may, lots_box(at.box, scale));
  detail.share = share_of_part(at, scale, judged ? 0 : lost_share - tolerance);
  const bool by_share = at_least(*detail.share, lost_share);
  if (judged || !by_share) detail.reach_mm = reach(judged ? INFINITY : lost_reach_mm);
  if (by_share || at_least(*detail.reach_mm, lost_reach_mm)) return;
  if (at.vanish)
    detail.breaks = at_least(*detail.reach_mm, 2 * context.settings.visible_mm) && breaks(at, scale);
  else
    detail.shuts = shuts(at, scale);
}

void look_at(const RiskContext& context, const RunsNear& runs, const Look& look, const VoxelBits& solid,
             const VoxelBits& drawn) {
  const Part& part = look.parts->parts[look.candidate->part].part;
  Candidate& one = *look.candidate;
  Closeup at{one.detail.fate == Fate::vanish,
             one.detail.state == State::may,
             one.window,
             part.seed,
             solid,
             drawn,
             voxels_of(part, look.parts->time, one.window, runs),
             {},
             {}};
  look_into(at, look, runs, context);
  if (!look.parts->judged && !is_lost(one, context.settings)) return;
  one.detail.roofed = !at.vanish && roofed(at);
  describe(*look.parts, one, at.detail, runs, context);
}

void look_around(const RiskContext& context, const RunStore& store, Site& site) {
  const VoxelBits drawn =
      site.deep ? drawn_parts(site.solid, site.fate == Fate::vanish, scale_of(context)) : VoxelBits();
  const RunsNear runs(store, site.fate, site.lots);
  const auto look = [&](std::size_t i) { look_at(context, runs, *site.looks[i], site.solid, drawn); };
  constexpr std::size_t few = 32;  // not worth waking other threads for
  if (site.looks.size() < few)
    for (std::size_t i = 0; i < site.looks.size(); ++i) look(i);
  else
    oneapi::tbb::parallel_for(std::size_t{0}, site.looks.size(), look);
  site.solid = {};
}

// Fills in what of a layer lies in some sites.
Result<void> add_layer(std::uint32_t number, std::span<Site> sites, const RunStore& store, const SolidOf& solid_of) {
  std::shared_ptr<const Mask> solid;
  for (Site& site : sites) {
    if (number < site.box.from_layer || number > site.box.to_layer) continue;
    if (!solid) solid = store.solid(*store.find(number));
    if (!solid) {
      auto read = solid_of(number);
      if (!read) return tl::unexpected(std::move(read.error()));
      solid = std::make_shared<const Mask>(std::move(*read));
    }
    site.solid.set(number, *solid);
  }
  return {};
}

// Looks at some sites, which have room together. Fails as solid_of does at the highest layer that cannot be read.
Result<void> look_over(std::span<Site> sites, const RunStore& store, const RiskContext& context,
                       const SolidOf& solid_of) {
  namespace tbb = oneapi::tbb;
  for (Site& site : sites) site.solid = VoxelBits(site.box);
  std::vector<Result<void>> read(context.layers.size());
  tbb::parallel_for(std::size_t{0}, read.size(), [&](std::size_t i) {
    read[i] = add_layer(static_cast<std::uint32_t>(i + 1), sites, store, solid_of);
  });
  const auto failed = std::find_if(read.rbegin(), read.rend(), [](const Result<void>& one) { return !one; });
  if (failed != read.rend()) return std::move(*failed);
  tbb::parallel_for_each(sites.begin(), sites.end(), [&](Site& site) { look_around(context, store, site); });
  return {};
}

// How many of the first sites have room together.
std::size_t fitting(std::span<const Site> sites) {
  constexpr std::uint64_t most_voxels_at_once = 8 * std::uint64_t{32'000'000};  // a bit each
  std::uint64_t voxels = 0;
  std::size_t count = 0;
  do voxels += sites[count++].box.voxels();
  while (count < sites.size() && voxels + sites[count].box.voxels() <= most_voxels_at_once);
  return count;
}

}  // namespace

Result<void> look_closely(std::vector<TimeParts>& times, const RunStore& store, const RiskContext& context,
                          const SolidOf& solid_of) {
  std::vector<Look> looks;
  for (TimeParts& at : times) {
    for (Candidate& one : at.candidates) {
      if (!one.look) continue;
      const bool deep = is_deep(one.detail.depth_mm, context.settings);
      const Part& part = at.parts[one.part].part;
      const BoxVoxels solid = solid_wanted(one.detail.fate, part, context);
      looks.push_back({&at, &one, solid, deep ? lots_wanted(part, context) : solid, deep});
    }
  }
  std::vector<Site> sites = sites_of(looks);
  for (std::span<Site> left = sites; !left.empty();) {
    const std::span<Site> now = left.first(fitting(left));
    // These find no room in what was left in small pieces before.
    if (now.size() < sites.size()) give_back_freed_memory();
    if (auto looked = look_over(now, store, context, solid_of); !looked) return looked;
    left = left.subspan(now.size());
  }
  return {};
}

}  // namespace hairline::risk
