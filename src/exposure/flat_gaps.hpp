/// Columns of empty voxels between solid above and solid below (docs/exposure.md, Fuse).
///
///     layer  n+3   ####      solid: layer `since`
///            n+2   ....
///            n+1   ....      layer `from`, the gap's earliest voxel: light reaches it last
///            n     ####      solid: the gap closes
///
/// The solid of the layers a gap can reach through is kept as bits: where something is solid that was empty in the
/// layer above, the next solid further up is looked for.
#pragma once
#include <cstdint>
#include <deque>
#include <vector>

#include "hairline/settings.hpp"
#include "tiles.hpp"

namespace hairline::exposure {

/// Pixels of one tile whose gap, empty in layers [from, since), has just closed.
struct ClosedGap {
  std::uint32_t tx, from, since;
  TileBits bits;
};

class FlatGaps {
 public:
  /// `most_mm`: the highest gap that counts.
  FlatGaps(const std::vector<PrintedLayer>& layers, double most_mm) : layers_(layers), most_mm_(most_mm) {}
  /// The gaps, in place of what `closed` held, whose floor is the solid of layer `number`, the one below the layer
  /// added last; tile by tile, lowest first. 0: the plate.
  void close(std::uint32_t number, const BitBand& solid, std::uint32_t tiles, std::vector<ClosedGap>& closed) const;
  /// Adds the solid of layer `number` (falling).
  void add(std::uint32_t number, const BitBand& solid, std::uint32_t tiles);
  /// Forgets all layers.
  void drop() { above_.clear(), seen_ = {}; }

 private:
  bool too_high(std::uint32_t from, std::uint32_t since) const {
    return layers_[since - 1].bottom_mm - layers_[from - 1].bottom_mm > most_mm_ + 1e-9;
  }
  const std::vector<PrintedLayer>& layers_;
  double most_mm_;
  // Everything solid of late, per tile, in two generations: at least all of `above_`. Where what has just become solid
  // meets none of it, no layer need be looked at.
  struct Seen {
    TileBits now{}, before{};
  };
  void remember(const BitBand& solid, std::uint32_t tiles);
  std::deque<BitBand> above_;  // layers number + 1, number + 2, ...
  std::vector<Seen> seen_;
  std::size_t generation_ = 0;  // layers in `now`
};

}  // namespace hairline::exposure
