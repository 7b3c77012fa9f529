/// What both steps of the exposure model share; see include/hairline/exposure.hpp.
#pragma once
#include <memory>
#include <mutex>
#include <vector>

#include "hairline/exposure.hpp"
#include "kernel.hpp"
#include "tiles.hpp"

namespace hairline {

/// Light of one layer by tiles. A tile without edges near it has one value everywhere.
struct CastLight::State {
  exposure::Grid grid;
  std::vector<float> uniform;             ///< per tile: its value where it is uniform
  std::vector<std::int32_t> dense;        ///< per tile: index of its pixels, or -1
  std::vector<std::uint32_t> dense_tile;  ///< the dense tiles, rising
  std::vector<float> light;               ///< tile_px values per dense tile
  std::vector<exposure::TileBits> solid;  ///< per dense tile

  const float* tile(std::uint32_t t) const {
    return dense[t] < 0 ? nullptr : light.data() + static_cast<std::size_t>(dense[t]) * exposure::tile_px;
  }
};

/// Buffers handed back by finished layers, so that a layer costs no fresh memory.
class LightPool {
 public:
  std::unique_ptr<CastLight::State> take();
  void give(std::unique_ptr<CastLight::State> state);

 private:
  std::mutex lock_;
  std::vector<std::unique_ptr<CastLight::State>> free_;
};

struct ExposureContext::State {
  CureModel model;
  Pitch pitch;
  exposure::Grid grid;
  std::vector<LayerPlan> layers;
  ExposureSettings settings;
  exposure::Kernel kernel, wider_kernel;  ///< wider: blur * (1 + blur_step), for slopes
  exposure::Disc reach;                   ///< 3 blur: how far a voxel is held by, or kept open by, its neighbours
  exposure::Disc closing;                 ///< 2 blur: what counts as a narrow gap
  double flat_gap_mm = 0;                 ///< 4 Dp
  mutable LightPool pool;

  const LayerPlan& plan(std::uint32_t number) const { return layers[number - 1]; }
  bool normal(std::uint32_t number) const { return plan(number).kind == LayerKind::normal; }
};

namespace exposure {

inline constexpr double blur_step = 0.01;

/// Appends a tile row's voxels to runs, joining equal neighbours.
void append_voxel(std::vector<CriticalRun>& runs, const CriticalRun& voxel);

}  // namespace exposure
}  // namespace hairline
