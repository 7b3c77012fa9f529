/// Parts thinner than a pixel. A mask shows them as spots of grey with hardly a solid pixel, so they are in no piece,
/// and no wall of theirs is measured. Internal to the stages that follow layers.
#pragma once
#include <cstdint>
#include <vector>

#include "hairline/layer.hpp"

namespace hairline {

/// A lit place of a layer, 8-connected, narrow, with at most three solid pixels.
struct FaintSpot {
  BoxPx box;
  bool bare = true;  ///< without any solid pixel
};

/// Spots of a layer, by row and column of their first pixel; none where there are over 400 of them, or so many
/// thin runs that looking is too dear: that is noise, or a lattice.
std::vector<FaintSpot> find_faint_spots(const Layer& layer);

/// Spots above each other.
struct FaintChain {
  std::uint32_t from_layer = 0, to_layer = 0, bare_layers = 0;
  BoxPx box;
};

class FaintTracker {
 public:
  /// Numbers fall from call to call.
  void add(std::uint32_t number, const std::vector<FaintSpot>& spots);
  /// After layer 1: those of at least five layers, a quarter of them bare; lowest first.
  std::vector<FaintChain> finish();

 private:
  struct Open {
    FaintChain chain;
    BoxPx last;
  };
  void close(const Open& open);
  std::vector<Open> open_;
  std::vector<FaintChain> found_;
};

}  // namespace hairline
