/// How the critical exposure of upright gaps follows the blur.
#pragma once
#include <vector>

#include "blur.hpp"
#include "context.hpp"
#include "neighbourhood.hpp"

namespace hairline::exposure {

/// The layer's own light at the darkest pixel stands for the layers that made up its settled light: exact where the gap
/// is prismatic; a roof's share, which blur does not move, is left out.
class Slopes {
 public:
  Slopes(const ExposureContext::State& context, const Layer& layer)
      : context_(context), plain_(context.kernel, layer), wider_(context.wider_kernel, layer) {}

  /// `window`: settled light around tile t, infinite where solid. slope: d ln(critical) / d ln(blur), tile_px values,
  /// set where `bits` are and 0 elsewhere.
  void find(std::uint32_t t, const LayerPlan& plan, const ValueWindow& window, const TileBits& bits,
            std::vector<float>& slope);

 private:
  std::size_t darkest(const ValueWindow& window, int y, int x) const;
  const ExposureContext::State& context_;
  Blurrer plain_, wider_;
  std::vector<float> plain_light_, wider_light_;
};

}  // namespace hairline::exposure
