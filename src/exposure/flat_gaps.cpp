#include "flat_gaps.hpp"

namespace hairline::exposure {

void FlatGaps::close(std::uint32_t number, const BitBand& solid, std::uint32_t tiles,
                     std::vector<ClosedGap>& closed) const {
  closed.clear();
  const std::uint32_t from = number + 1;
  for (std::uint32_t tx = 0; tx < tiles && !above_.empty(); ++tx) {
    if (solid.empty(tx) || above_.front().full(tx)) continue;
    TileBits open = solid.at(tx);
    if (!take_away(open, above_.front().at(tx))) continue;
    if (!meet(open, seen_[tx].now) && !meet(open, seen_[tx].before)) continue;
    bool any = true;
    for (std::size_t i = 1; i < above_.size() && any; ++i) {
      const auto since = static_cast<std::uint32_t>(from + i);
      if (too_high(from, since)) break;
      if (above_[i].empty(tx)) continue;
      TileBits hit = open;
      if (!keep_only(hit, above_[i].at(tx))) continue;
      closed.push_back({tx, from, since, hit});
      any = take_away(open, hit);
    }
  }
}

void FlatGaps::add(std::uint32_t number, const BitBand& solid, std::uint32_t tiles) {
  // The next floor is at the earliest layer number - 1, so its gap begins at `number`.
  BitBand reused;
  while (!above_.empty() && too_high(number, static_cast<std::uint32_t>(number + above_.size()))) {
    reused = std::move(above_.back());
    above_.pop_back();
  }
  reused = solid;
  above_.push_front(std::move(reused));
  remember(solid, tiles);
}

void FlatGaps::remember(const BitBand& solid, std::uint32_t tiles) {
  seen_.resize(tiles);
  if (++generation_ > above_.size()) {
    for (Seen& seen : seen_) seen = {no_bits, seen.now};
    generation_ = 1;
  }
  for (std::uint32_t tx = 0; tx < tiles; ++tx) {
    if (!solid.empty(tx)) add_to(seen_[tx].now, solid.at(tx));
  }
}

}  // namespace hairline::exposure
