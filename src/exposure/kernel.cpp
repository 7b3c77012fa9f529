#include "kernel.hpp"

#include <algorithm>
#include <cmath>

#include "../base/normal.hpp"

namespace hairline::exposure {
namespace {

// w_k = Phi((k + 1/2) p / s) - Phi((k - 1/2) p / s), up to the first pixel beyond which no more than `rest` of the
// light is left on each side.
AxisWeights gaussian_weights(double deviation_mm, double pitch_mm, double rest) {
  const double s = deviation_mm / pitch_mm;
  int radius = 1;
  while (normal_cdf(-(radius + 0.5) / s) > rest) ++radius;
  AxisWeights axis;
  for (int k = 0; k <= radius; ++k) {
    axis.weight.push_back(static_cast<float>(normal_cdf((k + 0.5) / s) - normal_cdf((k - 0.5) / s)));
  }
  return axis;
}

// Makes up for what is cut off.
AxisWeights whole(AxisWeights axis) {
  double sum = -static_cast<double>(axis.weight[0]);
  for (const float weight : axis.weight) sum += 2 * static_cast<double>(weight);
  for (float& weight : axis.weight) weight = static_cast<float>(static_cast<double>(weight) / sum);
  return axis;
}

// Deviations in g0 and shares, fitted to the kernel's integrals over walls, slots, pins and holes of 1 to 8 pixels
// under a blur of 0.5 to 3 pixels, in surroundings that end 3 to 320 pixels away (docs/exposure.md, Light).
constexpr struct {
  double deviation, share;
} lorentzian_mixture[] = {{0.34, 0.0198},  {0.612, 0.2004},  {1.102, 0.2855},  {1.983, 0.2063}, {3.569, 0.1297},
                          {6.425, 0.0707}, {11.564, 0.0406}, {20.815, 0.0282}, {72.854, 0.0188}};

constexpr double left_out = 1e-6, left_out_of_mixture = 1e-5;  // share of all light beyond each side of a kernel

std::vector<KernelPart> lorentzian_parts(double g0_mm, Pitch pitch) {
  std::vector<KernelPart> parts;
  for (const auto& [deviation, share] : lorentzian_mixture) {
    const double rest = left_out_of_mixture / share;
    parts.push_back({whole(gaussian_weights(deviation * g0_mm, pitch.x_mm, rest)),
                     whole(gaussian_weights(deviation * g0_mm, pitch.y_mm, rest)), static_cast<float>(share)});
  }
  return parts;
}

}  // namespace

Kernel make_kernel(BlurShape shape, double blur_mm, Pitch pitch) {
  Kernel kernel;
  if (shape == BlurShape::gaussian) {
    kernel.parts.push_back(
        {gaussian_weights(blur_mm, pitch.x_mm, left_out), gaussian_weights(blur_mm, pitch.y_mm, left_out), 1.0f});
  } else {
    kernel.parts = lorentzian_parts(blur_mm, pitch);
  }
  for (const KernelPart& part : kernel.parts) {
    kernel.radius_x = std::max(kernel.radius_x, part.x.radius());
    kernel.radius_y = std::max(kernel.radius_y, part.y.radius());
  }
  return kernel;
}

}  // namespace hairline::exposure
