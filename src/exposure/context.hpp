/// What every step of the exposure model shares; see include/hairline/exposure.hpp.
#pragma once
#include <vector>

#include "hairline/exposure.hpp"
#include "kernel.hpp"
#include "tiles.hpp"

namespace hairline {

struct ExposureContext::State {
  CureModel model;
  Pitch pitch;
  exposure::Grid grid;
  std::vector<PrintedLayer> layers;
  ExposureSettings settings;
  exposure::Kernel kernel, wider_kernel;  ///< wider: blur * (1 + blur_step), for slopes
  exposure::Disc reach;                   ///< 3 blur: how far a voxel is held by, or kept open by, its neighbours
  exposure::Disc closing;                 ///< 2 blur and half a pixel: what counts as a narrow gap
  double flat_gap_mm = 0;                 ///< 4 Dp

  const PrintedLayer& printed(std::uint32_t number) const { return layers[number - 1]; }
  bool normal(std::uint32_t number) const { return printed(number).kind == LayerKind::normal; }
};

namespace exposure {

inline constexpr double blur_step = 0.01;

}  // namespace exposure
}  // namespace hairline
