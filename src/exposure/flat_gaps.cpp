#include "flat_gaps.hpp"

namespace hairline::exposure {

void FlatGaps::add(std::uint32_t number, const BitBand& solid, std::uint32_t tiles, std::vector<ClosedGap>& closed) {
  closed.clear();
  const std::uint32_t from = number + 1;
  for (std::uint32_t tx = 0; tx < tiles && !above_.empty(); ++tx) {
    if (solid.empty(tx) || above_.front().full(tx)) continue;
    TileBits open = minus(solid.at(tx), above_.front().at(tx));
    for (std::size_t i = 1; i < above_.size() && !none(open); ++i) {
      const auto since = static_cast<std::uint32_t>(from + i);
      if (too_high(from, since)) break;
      if (above_[i].empty(tx)) continue;
      const TileBits hit = both(open, above_[i].at(tx));
      if (none(hit)) continue;
      closed.push_back({tx, from, since, hit});
      open = minus(open, hit);
    }
  }
  // The next floor is at the earliest layer number - 1, so its gap begins at `number`.
  BitBand reused;
  while (!above_.empty() && too_high(number, static_cast<std::uint32_t>(number + above_.size()))) {
    reused = std::move(above_.back());
    above_.pop_back();
  }
  reused = solid;
  above_.push_front(std::move(reused));
}

}  // namespace hairline::exposure
