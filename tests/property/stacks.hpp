/// Small stacks drawn voxel by voxel for the property tests: independent of the drawing kit and of the archive.
#pragma once
#include <cstdint>
#include <functional>
#include <random>
#include <vector>

#include "hairline/layer.hpp"
#include "hairline/model.hpp"
#include "hairline/settings.hpp"
#include "support/slow_twin.hpp"

namespace hairline::stacks {

/// Is the point (mm, plate coordinates, z from the plate) inside the model?
using Inside = std::function<bool(double x, double y, double z)>;

/// Masks of a model: each pixel's value is 255 times the share of `samples` x `samples` points inside, at the layer's
/// middle height.
std::vector<Layer> draw(const JobSettings& settings, const Inside& inside, int samples = 4);

/// Numbers from a seed, the same with every standard library.
class Dice {
 public:
  explicit Dice(std::uint64_t seed) : engine_(seed) {}
  double between(double from, double to) {
    return from + (to - from) * (static_cast<double>(engine_() >> 11) * 0x1p-53);
  }
  int whole(int from, int to) {  ///< both ends included
    return from + static_cast<int>(engine_() % static_cast<std::uint64_t>(to - from + 1));
  }
  bool chance(double share) { return between(0, 1) < share; }

 private:
  std::mt19937_64 engine_;
};

struct Case {
  JobSettings settings;
  std::vector<Layer> layers;
  CureModel model;
};

struct CaseKind {
  int side_px = 48, layer_count = 24;
  bool unequal_pitch = false, base = false, exceptions = false, speckle = false;
  bool lorentzian = false;
  bool grey = false;                               ///< whole bodies at grey 150 to 240
  double least_blur_px = 0.5, most_blur_px = 2.2;  ///< of 0.05 mm
};

/// Walls, slots, pins, bodies, flat slots and sideways holes, piled up at random; grey edges. Times and blur are drawn
/// so that some of them flip.
Case random_case(std::uint64_t seed, const CaseKind& kind);

/// What the twin needs, judged at `exposure_s`.
twin::Input input_of(const Case& drawn, double exposure_s);

JobSettings plain_settings(Size size, std::uint32_t layer_count, Pitch pitch = {0.05, 0.05}, double height_mm = 0.05);
CureModel plain_model(double blur_mm);

/// The same job seen otherwise. Exceptions and base stay with their layers.
Case mirrored(const Case& drawn);        ///< columns in reverse order
Case quarter_turned(const Case& drawn);  ///< rows become columns; the pitches change places
/// Laid into a larger image with `left` and `above` empty pixels before it.
Case laid_into(const Case& drawn, Size size, std::uint32_t left, std::uint32_t above);
/// Every layer twice, at half the height.
Case doubled(const Case& drawn);

}  // namespace hairline::stacks
