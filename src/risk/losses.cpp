#include "losses.hpp"

#include <map>
#include <numeric>

#include "box_set.hpp"
#include "boxes.hpp"

namespace hairline::risk {
namespace {

void take_after(Detail& detail, const Detail& alike) {
  detail.share = alike.share, detail.reach_mm = alike.reach_mm;
  detail.welds = alike.welds, detail.shuts = alike.shuts, detail.breaks = alike.breaks;
  detail.roofed = alike.roofed;
  if (alike.depth_mm == 0) detail.depth_mm = 0;
}

std::vector<VoxelRun> runs_of(const VoxelBits& bits) {
  const BoxVoxels& box = bits.box();
  std::vector<VoxelRun> runs;
  for (std::uint32_t n = box.from_layer; n <= box.to_layer; ++n)
    for (int y = box.y0; y < box.y1; ++y)
      for (auto run = bits.next(n, y, box.x0); run; run = bits.next(n, y, run->end)) runs.push_back(*run);
  return runs;
}

// Do two sets of voxels touch: corners in a layer included, over neighbouring layers where they share a pixel?
bool touch(const VoxelBits& a, const std::vector<VoxelRun>& b) {
  return std::any_of(b.begin(), b.end(), [&](const VoxelRun& run) {
    const auto [n, y, begin, end] = run;
    return a.any({n - 1, y, begin, end}) || a.any({n + 1, y, begin, end}) || a.any({n, y - 1, begin - 1, end + 1}) ||
           a.any({n, y, begin - 1, end + 1}) || a.any({n, y + 1, begin - 1, end + 1});
  });
}

// In pixels and layers instead of mm; those that touch this one overlap it when it is half of one wider.
BoxMm as_box(const BoxVoxels& box, double wider = 0) {
  return {{box.x0 - wider, box.y0 - wider, box.from_layer - wider},
          {box.x1 + wider, box.y1 + wider, box.to_layer + 1 + wider}};
}

// What will be lost of one fate, found by its window.
struct WillBeLost {
  std::vector<const Candidate*> all;
  BoxSet windows;
};
WillBeLost will_be_lost(const TimeParts& parts, Fate fate) {
  std::vector<const Candidate*> all;
  std::vector<BoxMm> windows;
  for (const Candidate& one : parts.candidates) {
    if (!one.detail.lost || one.detail.state != State::will || one.detail.fate != fate) continue;
    all.push_back(&one);
    windows.push_back(as_box(one.window));
  }
  return {std::move(all), BoxSet(windows)};
}

// A `may` detail beside a lost `will` one of its fate adds no harm of its own.
std::vector<bool> find_beside_lost(const TimeParts& parts, const RunStore& store) {
  constexpr std::size_t most_known = 1'000'000;
  const auto voxels = [&](const Candidate& one) {
    return voxels_of(parts.parts[one.part].part, parts.time, one.window, RunsNear(store, one.detail.fate, one.window));
  };
  const WillBeLost missing = will_be_lost(parts, Fate::vanish), closed = will_be_lost(parts, Fate::fuse);
  std::map<const Candidate*, std::vector<VoxelRun>> known;
  std::size_t known_runs = 0;
  const auto touches = [&](const VoxelBits& may, const Candidate& other) {
    auto at = known.find(&other);
    if (at == known.end()) {
      if (known_runs > most_known) known.clear(), known_runs = 0;
      at = known.emplace(&other, runs_of(voxels(other))).first;
      known_runs += at->second.size();
    }
    return touch(may, at->second);
  };
  std::vector<bool> beside(parts.candidates.size(), false);
  for (std::size_t i = 0; i < beside.size(); ++i) {
    const Candidate& one = parts.candidates[i];
    if (!one.detail.lost || one.detail.state != State::may) continue;
    const WillBeLost& will = one.detail.fate == Fate::vanish ? missing : closed;
    std::optional<VoxelBits> own;
    beside[i] = will.windows.any_overlapping(as_box(one.window, 0.5), [&](std::uint32_t other) {
      if (!own) own = voxels(one);
      return touches(*own, *will.all[other]);
    });
  }
  return beside;
}

// Rows know the details of normal layers only, so those of the base come last.
bool is_worse(const Detail& a, const Detail& b) {
  return a.base == b.base ? comes_first(a, b) : b.base;
}

// Of each body that hangs on parts of a lot the worst lost detail it falls with, by its index; or none.
std::vector<std::uint32_t> worst_of_bodies(const TimeParts& parts, Standing& standing, Lot lot) {
  const std::vector<Candidate>& all = parts.candidates;
  const auto part_of = [&](std::uint32_t i) -> const EndedPart& { return parts.parts[all[i].part]; };
  std::map<BodyRange, std::vector<std::uint32_t>> on;  // that many bodies hang on alike
  for (std::uint32_t i = 0; i < all.size(); ++i)
    if (all[i].detail.lost && part_of(i).part.lot == lot)
      for (const BodyRange& range : part_of(i).bodies) on[range].push_back(i);
  std::vector<std::uint32_t> worst(standing.hung_count(lot), none);
  const auto worse = [&](std::uint32_t a, std::uint32_t b) {
    return a == none || is_worse(all[b].detail, all[a].detail) ? b : a;
  };
  for (auto& [range, details] : on) {
    // The worst of those that begin no higher than each.
    const auto from_layer = [&](std::uint32_t i) { return part_of(i).part.from_layer; };
    std::stable_sort(details.begin(), details.end(),
                     [&](std::uint32_t a, std::uint32_t b) { return from_layer(a) < from_layer(b); });
    std::vector<std::uint32_t> worst_to(details.size());
    std::inclusive_scan(details.begin(), details.end(), worst_to.begin(), worse);
    for (std::uint32_t body = range.first; body < range.last; ++body) {
      const std::uint32_t to_layer = standing.hung(lot, body).to_layer;
      const auto beyond = std::partition_point(details.begin(), details.end(),
                                               [&](std::uint32_t i) { return from_layer(i) <= to_layer; });
      if (beyond != details.begin()) worst[body] = worse(worst[body], worst_to[beyond - details.begin() - 1]);
    }
  }
  return worst;
}

}  // namespace

void find_lost(const RiskContext& context, std::vector<TimeParts>& times) {
  for (TimeParts& at : times)
    for (Candidate& one : at.candidates) {
      if (one.like) take_after(one.detail, at.candidates[*one.like].detail);
      one.detail.lost = is_lost(one, context.settings);
    }
}

void conclude(TimeParts& parts, Standing& standing, const RunStore& store, const RiskContext& context) {
  std::vector<Candidate>& all = parts.candidates;
  const std::vector<bool> beside = find_beside_lost(parts, store);
  for (std::size_t i = 0; i < all.size(); ++i) all[i].detail.harm_mm = beside[i] ? 0 : all[i].detail.extent_mm;
  for (const Lot lot : {Lot::will, Lot::may}) {  // a body's harm counts once
    const std::vector<std::uint32_t> worst = worst_of_bodies(parts, standing, lot);
    for (std::size_t body = 0; body < worst.size(); ++body)
      if (worst[body] != none && !beside[worst[body]])
        all[worst[body]].detail.harm_mm += extent_mm(box_mm(context, standing.hung(lot, body)));
  }
}

}  // namespace hairline::risk
