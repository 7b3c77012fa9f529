/// The slow twin of the exposure engine: docs/exposure.md on dense arrays, in double precision, as plainly as it can
/// be written. It shares no code with src/exposure or src/risk, because it is there to judge them. The whole stack and
/// every result stay in memory, so it is for small stacks only. It is itself judged by closed forms
/// (tests/property/twin_*.cpp) and by SciPy (tests/outside/exposure_by_scipy.py). The model in words: docs/exposure.md.
#pragma once
#include <cstdint>
#include <vector>

#include "hairline/layer.hpp"
#include "hairline/model.hpp"
#include "hairline/settings.hpp"

namespace hairline::twin {

/// One value per voxel. `layer` is an index here: 0 is layer 1.
template <class T>
struct Volume {
  std::uint32_t layers = 0, rows = 0, cols = 0;
  std::vector<T> values;  ///< layer by layer, row by row

  Volume() = default;
  Volume(std::uint32_t layer_count, Size size, T value)
      : layers(layer_count),
        rows(size.height_px),
        cols(size.width_px),
        values(static_cast<std::size_t>(layer_count) * size.height_px * size.width_px, value) {}
  std::size_t index(std::uint32_t layer, std::uint32_t row, std::uint32_t col) const {
    return (static_cast<std::size_t>(layer) * rows + row) * cols + col;
  }
  T& at(std::uint32_t layer, std::uint32_t row, std::uint32_t col) { return values[index(layer, row, col)]; }
  const T& at(std::uint32_t layer, std::uint32_t row, std::uint32_t col) const {
    return values[index(layer, row, col)];
  }
};

struct Input {
  std::vector<Layer> layers;        ///< index 0 is layer 1; all of one size
  std::vector<PrintedLayer> plans;  ///< one per layer, made for `exposure_s`
  Pitch pitch;
  CureModel model;
  double exposure_s = 0;                           ///< judged normal exposure
  double least_chance = 0.05, dose_spread = 0.05;  ///< of voxels that belong to details
};

/// Everything about every voxel. Critical exposures are normal exposures in s, but for solid in base and transition
/// layers, where they are the layer's own time.
struct Exposed {
  Volume<std::uint8_t> solid;  ///< 1 where the mask value is 128 or more
  Volume<double> light;        ///< B, 0..1
  /// Settled light at a normal exposure of t is `settled_fixed + t * settled_per_s` (seconds of full light). The fixed
  /// part comes from layers at base or transition time and is 0 in normal layers.
  Volume<double> settled_fixed, settled_per_s;
  Volume<std::uint8_t> thin, bulk;  ///< 1 on solid voxels of the one kind and of the other
  Volume<double> vanish_s;          ///< thin voxels: lost below this exposure; 0 elsewhere (never part of a detail)
  Volume<double> fuse_s;            ///< empty voxels of normal layers: filled from here up; +infinity where never
  Volume<double>
      flat_height_mm;  ///< height of the flat gap whose closing fills the voxel first; 0: an upright one, or none
  Volume<std::uint8_t> narrow;   ///< 1 on empty voxels of upright narrow gaps
  Volume<std::uint8_t> propped;  ///< 1 on solid over a flat gap that closes at the judged times; the plate is a floor
  Volume<std::uint8_t> lost;  ///< 1 where a thin voxel or a gap's flips at the judged exposure (base layers: own time)
  double base_vanish_mm3 = 0, base_fuse_mm3 = 0;
};

/// Weights of the blur: `along` per axis and their product for the Gaussian; full table over the image for the
/// Lorentzian. Exposed for the checks of the twin itself.
std::vector<double> gaussian_weights(double blur_mm, double pitch_mm);
/// Share of the Lorentzian kernel that falls on the pixel `rows`, `cols` away.
double lorentzian_weight(double blur_mm, Pitch pitch, long rows, long cols);

/// Light, settled light, critical exposures, losses.
Exposed expose(const Input& input);

}  // namespace hairline::twin
