/// The lateral blur as pixel-integrated weights, separable in x and y.
#pragma once
#include <vector>

#include "hairline/layer.hpp"
#include "hairline/model.hpp"

namespace hairline::exposure {

/// Symmetric weights of one axis: weight[k] at distance k pixels, k = 0..radius.
struct AxisWeights {
  std::vector<float> weight;
  int radius() const { return static_cast<int>(weight.size()) - 1; }
};

/// One Gaussian of a blur, with its share.
struct KernelPart {
  AxisWeights x, y;
  float share = 1;
};

/// A blur: one Gaussian, or a mixture of them.
///
/// The heavy-tailed shape g0 / (2 pi (rho^2 + g0^2)^1.5) is what a Gaussian with standard deviation g0 / |Z| gives on
/// average, Z standard normal (its line spread is the Cauchy law, which is Student's t with one degree of freedom).
/// Nine of them keep walls and gaps within 1 % and every step separable.
struct Kernel {
  std::vector<KernelPart> parts;
  int radius_x = 0, radius_y = 0;
};

Kernel make_kernel(BlurShape shape, double blur_mm, Pitch pitch);

}  // namespace hairline::exposure
