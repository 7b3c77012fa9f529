#include "losses.hpp"

#include <map>

#include "boxes.hpp"

namespace hairline::risk {
namespace {

bool is_lost(const Detail& detail, const RiskSettings& settings) {
  if (detail.carries_mm3 >= settings.lost_carried_mm3 - tolerance || detail.welds || detail.shuts) return true;
  const bool reaches = detail.reach_mm.value_or(0) >= settings.lost_reach_mm - tolerance;
  if (!is_deep(detail.depth_mm, settings)) return detail.fate == Fate::vanish && reaches;
  return reaches || detail.share.value_or(0) >= settings.lost_share - tolerance;
}

// Do two sets of voxels touch: corners in a layer included, over neighbouring layers where they share a pixel?
bool touch(const VoxelBits& a, const VoxelBits& b) {
  const BoxVoxels &own = a.box(), &other = b.box();
  const std::uint32_t from_layer = std::max(own.from_layer + 1, other.from_layer) - 1;
  const std::uint32_t to_layer = std::min(own.to_layer, other.to_layer + 1);
  for (std::uint32_t n = from_layer; n <= to_layer; ++n)
    for (int y = std::max(own.y0, other.y0 - 1); y < std::min(own.y1, other.y1 + 1); ++y)
      for (int x = std::max(own.x0, other.x0 - 1); x < std::min(own.x1, other.x1 + 1); ++x) {
        if (!a.at(n, y, x)) continue;
        if (b.at(n + 1, y, x) || (n > 0 && b.at(n - 1, y, x))) return true;
        for (int dy = -1; dy <= 1; ++dy)
          for (int dx = -1; dx <= 1; ++dx)
            if (b.at(n, y + dy, x + dx)) return true;
      }
  return false;
}

bool boxes_touch(const BoxVoxels& a, const BoxVoxels& b) {
  return a.x0 <= b.x1 && b.x0 <= a.x1 && a.y0 <= b.y1 && b.y0 <= a.y1 && a.from_layer <= b.to_layer + 1 &&
         b.from_layer <= a.to_layer + 1;
}

// A `may` detail beside a lost `will` one of its fate adds no harm of its own.
void find_beside_lost(const TimeParts& parts, const RunStore& store, Candidates& candidates,
                      std::vector<bool>& beside) {
  std::map<const Candidate*, VoxelBits> known;
  const auto voxels = [&](const Candidate& one) -> const VoxelBits& {
    const auto at = known.find(&one);
    if (at != known.end()) return at->second;
    return known
        .emplace(&one, voxels_of(parts.parts[one.part].part, parts.time, one.window,
                                 RunsNear(store, one.detail.fate, one.window)))
        .first->second;
  };
  for (std::size_t i = 0; i < candidates.all.size(); ++i) {
    const Candidate& one = candidates.all[i];
    if (!one.detail.lost || one.detail.state != State::may) continue;
    for (const Candidate& other : candidates.all) {
      if (!other.detail.lost || other.detail.state != State::will || other.detail.fate != one.detail.fate) continue;
      if (!boxes_touch(one.window, other.window) || !touch(voxels(one), voxels(other))) continue;
      beside[i] = true;
      break;
    }
  }
}

}  // namespace

void find_lost(const RiskContext& context, std::vector<Candidates>& candidates) {
  for (Candidates& at_time : candidates)
    for (Candidate& one : at_time.all) one.detail.lost = is_lost(one.detail, context.settings);
}

void conclude(const TimeParts& parts, Standing& standing, const RunStore& store, const RiskContext& context,
              Candidates& candidates) {
  std::vector<bool> beside(candidates.all.size(), false);
  find_beside_lost(parts, store, candidates, beside);
  // A body's harm counts once, under the worst detail it hangs on.
  std::map<std::uint32_t, std::size_t> worst;
  for (std::size_t i = 0; i < candidates.all.size(); ++i) {
    if (!candidates.all[i].detail.lost) continue;
    for (const std::uint32_t body : parts.parts[candidates.all[i].part].bodies) {
      const auto [known, is_new] = worst.try_emplace(body, i);
      if (!is_new && comes_first(candidates.all[i].detail, candidates.all[known->second].detail)) known->second = i;
    }
  }
  for (std::size_t i = 0; i < candidates.all.size(); ++i)
    candidates.all[i].detail.harm_mm = beside[i] ? 0 : candidates.all[i].detail.extent_mm;
  for (const auto& [name, i] : worst) {
    if (beside[i]) continue;
    const Body& body = standing.body(name);
    candidates.all[i].detail.harm_mm += extent_mm(box_mm(context, body.box, body.from_layer, body.to_layer));
  }
}

}  // namespace hairline::risk
