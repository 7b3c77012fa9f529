#include "candidates.hpp"

#include <oneapi/tbb/parallel_for_each.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <span>
#include <tuple>

#include "boxes.hpp"
#include "certainty.hpp"
#include "runs_near.hpp"

namespace hairline::risk {
namespace {

constexpr std::uint64_t most_voxels = std::uint64_t{1} << 23;  // of a window
constexpr int window_px = 128;                                 // around the seed, where a box is larger than that

}  // namespace

CloseupScale scale_of(const RiskContext& context) {
  return {context.pitch, context.layers, context.model.blur_mm, context.model.penetration_depth_mm,
          context.settings.lost_reach_mm};
}

BoxVoxels window_of(const Part& part) {
  const auto px = [](std::uint32_t at) { return static_cast<int>(at); };
  BoxVoxels box{px(part.box.x0), px(part.box.y0), px(part.box.x1), px(part.box.y1), part.from_layer, part.to_layer};
  if (box.voxels() <= most_voxels) return box;
  const auto [layer, row, col] = part.seed;
  box.x0 = std::max(box.x0, col - window_px), box.x1 = std::min(box.x1, col + window_px);
  box.y0 = std::max(box.y0, row - window_px), box.y1 = std::min(box.y1, row + window_px);
  box.from_layer = std::max(box.from_layer, layer - std::min(layer, 64u));
  box.to_layer = std::min(box.to_layer, layer + 64);
  return box;
}

VoxelBits voxels_of(const Part& part, std::uint32_t time, const BoxVoxels& window, const RunsNear& runs) {
  VoxelBits like(window);
  runs.each(time, window, [&](const StoredLayer& layer, const RiskRun& run, Lot lot) {
    if (lot == part.lot && layer.base == part.base)
      like.set(layer.number, static_cast<int>(run.row), run.begin, run.end);
  });
  return connected(std::move(like), part.seed, window);
}

namespace {

// Some of a part's voxels: when they flip, also over the time they are compared with and over that of a wide place.
struct Share {
  double over_time = 0, over_wide = 0;
  float critical_s = 0, log_sd = 0, blur_slope = 0;
  std::uint32_t voxels = 0;
};

bool before(const Share& a, const Share& b) {
  return std::tie(a.over_time, a.log_sd, a.blur_slope, a.over_wide) <
         std::tie(b.over_time, b.log_sd, b.blur_slope, b.over_wide);
}

// What voxel `n` has, from 0, were all of them put in order; the shares change places.
Share nth(std::span<Share> shares, std::uint64_t n) {
  while (shares.size() > 1) {
    const std::size_t half = shares.size() / 2;
    std::nth_element(shares.begin(), shares.begin() + static_cast<std::ptrdiff_t>(half), shares.end(), before);
    std::uint64_t lower = 0;
    for (const Share& share : shares.first(half)) lower += share.voxels;
    const bool in_lower = n < lower;
    if (!in_lower) n -= lower;
    shares = in_lower ? shares.first(half) : shares.subspan(half);
  }
  return shares.front();
}

// What a part's voxels say together.
struct Middle {
  Share low, high;             // the middle two of all voxels, in the order in which they flip
  double width_mm = INFINITY;  // the narrowest place that was measured
  bool flat = false;           // it is a flat gap's
};

Middle middle_of(const TimeParts& parts, const Candidate& of, const VoxelBits& own, const RunsNear& near,
                 const RiskContext& context) {
  const Fate fate = of.detail.fate;
  Middle middle;
  std::vector<Share> shares;
  std::uint64_t all = 0;
  near.each(parts.time, of.window, [&](const StoredLayer& layer, const RiskRun& run, Lot) {
    const auto col = std::max(static_cast<int>(run.begin), of.window.x0);
    if (!own.at(layer.number, static_cast<int>(run.row), col)) return;
    const int end = std::min(static_cast<int>(run.end), of.window.x1);
    const auto critical_s = static_cast<double>(run.critical_s);
    const double wide_s = wide_critical_s(context.model, context.layers[layer.number - 1], fate);
    shares.push_back({critical_s / layer.rule.times_s[parts.time], critical_s / wide_s, run.critical_s, run.log_sd,
                      run.blur_slope, static_cast<std::uint32_t>(end - col)});
    all += shares.back().voxels;
    const auto wall = static_cast<double>(run.width_mm), flat = static_cast<double>(run.height_mm);
    if (flat > 0 && flat < middle.width_mm) middle.width_mm = flat, middle.flat = true;
    if (wall < middle.width_mm) middle.width_mm = wall, middle.flat = false;
  });
  if (shares.empty()) return middle;  // its runs could not be read, which RunStore::all_read tells
  middle.low = nth(shares, (all - 1) / 2), middle.high = all % 2 == 1 ? middle.low : nth(shares, all / 2);
  return middle;
}

// The width a straight wall, or slot, of equal light would have.
double width_by_light(Fate fate, const CureModel& model, double critical_s) {
  return fate == Fate::vanish ? wall_limit_mm(model, critical_s) : slot_limit_mm(model, critical_s);
}

// A candidate and its time.
struct Placed {
  const TimeParts* parts;
  Candidate* one;
  const Part& part() const { return parts->parts[one->part].part; }
};

// Critical exposure (median over the voxels: mean of the middle two), the spread of those like it, chance and width.
void fill_in(const Placed& placed, const Middle& middle, const RiskContext& context) {
  const auto mean = [](double a, double b) { return 0.5 * (a + b); };
  Detail& detail = placed.one->detail;
  const Share &low = middle.low, &high = middle.high;
  const double time_s = context.times_s[placed.parts->time];
  const bool base = placed.part().base;  // whose layers have times of their own
  const double over_time =
      base ? mean(low.over_time, high.over_time)
           : mean(static_cast<double>(low.critical_s) / time_s, static_cast<double>(high.critical_s) / time_s);
  const double critical_s = over_time * time_s, over_wide = mean(low.over_wide, high.over_wide);
  if (!base) detail.critical_exposure_s = critical_s;
  detail.log_sd = mean(low.log_sd, high.log_sd);
  const Bend bend = certainty_of(context).bend(detail.fate, mean(low.blur_slope, high.blur_slope), std::log(over_wide),
                                               detail.log_sd);
  // State and chance say the same: states leave the bend out.
  const bool will = detail.state == State::will;
  detail.probability = std::clamp(chance(detail.fate, over_time, 1, detail.log_sd, bend),
                                  will ? will_chance : context.settings.least_chance, will ? 1 : will_chance);
  detail.flat = middle.flat;
  detail.width_mm =
      std::isfinite(middle.width_mm) ? middle.width_mm : width_by_light(detail.fate, context.model, critical_s);
  if (!std::isfinite(detail.width_mm)) detail.width_mm = 0;
}

// What flips at one time flips at all those beyond it. So of two parts with a voxel in common that will flip, and as
// large as each other, each is the other.
auto identity_of(const Placed& placed) {
  const Part& part = placed.part();
  const bool shared = part.lot == Lot::will && !part.base;
  return std::tuple{placed.one->detail.fate, part.lot,      shared ? 0 : placed.parts->time,
                    part.seed.layer,         part.seed.row, part.seed.col,
                    part.volume_mm3};
}

// Small parts in one place read what is stored around them once; a large one, by its number, alone.
auto place_of(const Placed& placed, std::size_t number) {
  constexpr std::uint64_t small_voxels = std::uint64_t{1} << 18;
  const bool alone = placed.one->window.voxels() > small_voxels;
  const VoxelPlace& seed = placed.part().seed;
  return std::tuple{placed.one->detail.fate, seed.layer / 64, seed.row / 64, seed.col / 512, alone ? number + 1 : 0};
}

// Parts of one kind end on the same layers and have nearly the same size: copies on a plate, wherever they lie among
// the pixels.
auto kind_of(const Candidate& one, const Part& part) {
  const auto near = [](double size) { return std::lround(3 * std::log2(size)); };  // to a quarter
  return std::tuple{one.detail.fate,
                    part.lot,
                    part.base,
                    part.from_layer,
                    part.to_layer,
                    near(part.box.x1 - part.box.x0),
                    near(part.box.y1 - part.box.y0),
                    near(part.volume_mm3)};
}

// Of a time's candidates all that need it are looked at, or as many as may be: first one of each kind, the largest
// first, then a second of each. The rest take after the last of their kind.
void choose(TimeParts& parts, const RiskContext& context) {
  std::vector<Candidate>& all = parts.candidates;
  std::vector<std::uint32_t> wanted;
  for (std::uint32_t i = 0; i < all.size(); ++i) {
    const EndedPart& part = parts.parts[all[i].part];
    if (needs_look(part.fate, part.part, context)) wanted.push_back(i);
  }
  if (wanted.size() <= context.settings.most_looked_at) {
    for (const std::uint32_t i : wanted) all[i].look = true;
    return;
  }
  std::sort(wanted.begin(), wanted.end(),
            [&](std::uint32_t a, std::uint32_t b) { return comes_first(all[a].detail, all[b].detail); });
  struct Ranked {
    std::uint32_t rank, index;
  };
  std::map<decltype(kind_of(all.front(), parts.parts.front().part)), std::vector<std::uint32_t>> kinds;
  std::vector<Ranked> ranked;
  for (const std::uint32_t i : wanted) {
    const Candidate& one = all[i];
    auto& kind = kinds[kind_of(one, parts.parts[one.part].part)];
    ranked.push_back({static_cast<std::uint32_t>(kind.size()), i});
    kind.push_back(i);
  }
  std::stable_sort(ranked.begin(), ranked.end(), [](const Ranked& a, const Ranked& b) { return a.rank < b.rank; });
  for (std::size_t k = 0; k < context.settings.most_looked_at; ++k) all[ranked[k].index].look = true;
  for (const auto& [key, kind] : kinds) {
    const Candidate* last = nullptr;
    for (const std::uint32_t i : kind) {
      Candidate& one = all[i];
      if (one.look)
        last = &one;
      else if (last != nullptr)
        one.like = static_cast<std::uint32_t>(last - all.data());
      else
        parts.not_looked_at += is_deep(one.detail.depth_mm, context.settings);
    }
  }
}

}  // namespace

bool is_lost(const Candidate& one, const RiskSettings& settings) {
  const Detail& detail = one.detail;
  if (one.carries || detail.welds || detail.shuts || detail.breaks) return true;
  const bool reaches = at_least(detail.reach_mm.value_or(0), settings.lost_reach_mm);
  if (!is_deep(detail.depth_mm, settings)) return detail.fate == Fate::vanish && reaches;
  return reaches || at_least(detail.share.value_or(0), settings.lost_share);
}

bool comes_first(const Detail& a, const Detail& b) {
  const auto order = [](const Detail& detail) {
    const double likely = detail.state == State::will ? 0.75 : 0.25;  // as long as its chance is not worked out
    return std::tuple{-detail.extent_mm * (detail.probability > 0 ? detail.probability : likely),
                      detail.from_layer,
                      detail.box.from.y,
                      detail.box.from.x,
                      detail.to_layer,
                      detail.box.to.y,
                      detail.box.to.x,
                      detail.fate,
                      detail.state};
  };
  return order(a) < order(b);
}

double depth_mm(const Part& part, const RiskContext& context) {
  const double least_face_mm2 = std::min(context.pitch.pixel_mm2(), std::min(context.pitch.x_mm, context.pitch.y_mm) *
                                                                        context.layers[part.from_layer - 1].height_mm);
  if (part.front_mm2 > 0.25 * least_face_mm2) return part.volume_mm3 / part.front_mm2;
  return extent_mm(box_mm(context, part));
}

bool is_deep(double depth_mm, const RiskSettings& settings) {
  return at_least(depth_mm, settings.visible_mm);
}

bool carries_enough(const EndedPart& part, const RiskSettings& settings) {
  return at_least(part.carries_mm3, settings.lost_carried_mm3) || part.drops;
}

// Of a long edge that vanishes the mean depth may hide a deep place, such as the point of a blade.
bool needs_look(Fate fate, const Part& part, const RiskContext& context) {
  if (is_deep(depth_mm(part, context), context.settings)) return true;
  if (fate == Fate::fuse) return part.between_two();
  return at_least(extent_mm(box_mm(context, part)), context.settings.lost_reach_mm);
}

BoxVoxels lots_wanted(const Part& part, const RiskContext& context) {
  return lots_box(window_of(part), scale_of(context));
}

BoxVoxels solid_wanted(Fate fate, const Part& part, const RiskContext& context) {
  const CloseupScale scale = scale_of(context);
  const BoxVoxels window = window_of(part);
  if (is_deep(depth_mm(part, context), context.settings)) return solid_box(window, fate == Fate::vanish, scale);
  return fate == Fate::vanish ? lots_box(window, scale) : weld_box(window, scale);
}

// As solid_wanted says; a weld_box is smaller.
bool is_solid_kept(Fate fate, const Part& part, const RiskContext& context) {
  const bool large = fate == Fate::vanish || is_deep(depth_mm(part, context), context.settings);
  return large && needs_look(fate, part, context);
}

BoxVoxels layers_wanted(std::uint32_t from_layer, std::uint32_t to_layer, const RiskContext& context) {
  const CloseupScale scale = scale_of(context);
  const BoxVoxels part{0, 0, 1, 1, from_layer, to_layer};
  BoxVoxels all = part;
  for (const BoxVoxels& box :
       {lots_box(part, scale), weld_box(part, scale), solid_box(part, true, scale), solid_box(part, false, scale)})
    all = around_both(all, box);
  return all;
}

namespace {

void list_parts(TimeParts& parts, const RiskContext& context) {
  for (std::uint32_t i = 0; i < parts.parts.size(); ++i) {
    const EndedPart& one = parts.parts[i];
    const Part& part = one.part;
    const bool carries = carries_enough(one, context.settings);
    if (!carries && (is_crumb(part, context.settings) || (!parts.judged && !needs_look(one.fate, part, context))))
      continue;
    if (part.base && !parts.judged) continue;
    Candidate candidate;
    candidate.part = i, candidate.window = window_of(part), candidate.carries = carries;
    Detail& detail = candidate.detail;
    detail.fate = one.fate;
    detail.state = part.lot == Lot::will ? State::will : State::may;
    detail.base = part.base;
    detail.from_layer = part.from_layer;
    detail.to_layer = part.to_layer;
    detail.box = box_mm(context, part);
    detail.extent_mm = extent_mm(detail.box);
    detail.volume_mm3 = part.volume_mm3;
    detail.depth_mm = depth_mm(part, context);
    detail.carries_mm3 = one.carries_mm3;
    parts.candidates.push_back(std::move(candidate));
  }
}

}  // namespace

void list_candidates(std::vector<TimeParts>& times, const RiskContext& context) {
  for (TimeParts& parts : times) {
    list_parts(parts, context);
    choose(parts, context);
  }
}

void describe(const TimeParts& parts, Candidate& one, const VoxelBits& own, const RunsNear& runs,
              const RiskContext& context) {
  fill_in({&parts, &one}, middle_of(parts, one, own, runs, context), context);
  one.described = true;
}

void describe_lost(std::vector<TimeParts>& times, const RunStore& store, const RiskContext& context) {
  std::map<decltype(identity_of(Placed())), std::vector<Placed>> same;  // described once for all times
  for (TimeParts& at : times)
    for (Candidate& one : at.candidates) {
      const Placed placed{&at, &one};
      if (!one.described && (one.detail.lost || at.judged)) same[identity_of(placed)].push_back(placed);
    }
  std::map<decltype(place_of(Placed(), 0)), std::vector<const std::vector<Placed>*>> near_each_other;
  for (const auto& [identity, all] : same)
    near_each_other[place_of(all.front(), near_each_other.size())].push_back(&all);
  oneapi::tbb::parallel_for_each(near_each_other.begin(), near_each_other.end(), [&](const auto& place) {
    BoxVoxels box = place.second.front()->front().one->window;
    for (const auto* all : place.second) box = around_both(box, all->front().one->window);
    const RunsNear runs(store, std::get<Fate>(place.first), box);
    for (const auto* all : place.second) {
      const TimeParts& parts = *all->front().parts;
      const Candidate& first = *all->front().one;
      const VoxelBits own = voxels_of(parts.parts[first.part].part, parts.time, first.window, runs);
      const Middle middle = middle_of(parts, first, own, runs, context);
      for (const Placed& placed : *all) fill_in(placed, middle, context);
    }
  });
}

}  // namespace hairline::risk
