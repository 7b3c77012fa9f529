#include "kernel.hpp"

#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/special_functions/erf.hpp>
#include <cmath>

namespace hairline::exposure {
namespace {

double normal_cdf(double x) {
  return 0.5 * std::erfc(-x / std::sqrt(2.0));
}

// w_k = Phi((k + 1/2) p / s) - Phi((k - 1/2) p / s), up to the first pixel beyond which less than a millionth of the
// light is left on each side.
AxisWeights gaussian_weights(double deviation_mm, double pitch_mm) {
  const double s = deviation_mm / pitch_mm;
  int radius = 1;
  while (normal_cdf(-(radius + 0.5) / s) > 1e-6) ++radius;
  AxisWeights axis;
  for (int k = 0; k <= radius; ++k) {
    axis.weight.push_back(static_cast<float>(normal_cdf((k + 0.5) / s) - normal_cdf((k - 0.5) / s)));
  }
  return axis;
}

// The widest parts of the mixture are flat over any detail; letting them reach further would cost time and change
// nothing.
constexpr double widest_in_g0 = 32;

std::vector<KernelPart> lorentzian_parts(double g0_mm, Pitch pitch) {
  using rule = boost::math::quadrature::gauss<double, 10>;  // on [-1, 1]; stored for the non-negative half
  std::vector<KernelPart> parts;
  for (std::size_t i = 0; i < rule::abscissa().size(); ++i) {
    for (const double sign : {-1.0, 1.0}) {
      const double share_below = 0.5 * (1 + sign * rule::abscissa()[i]);  // P(|Z| < z)
      const double z = std::sqrt(2.0) * boost::math::erf_inv(share_below);
      const double deviation = g0_mm * std::min(1 / z, widest_in_g0);
      parts.push_back({gaussian_weights(deviation, pitch.x_mm), gaussian_weights(deviation, pitch.y_mm),
                       static_cast<float>(0.5 * rule::weights()[i])});
    }
  }
  return parts;
}

}  // namespace

Kernel make_kernel(BlurShape shape, double blur_mm, Pitch pitch) {
  Kernel kernel;
  if (shape == BlurShape::gaussian) {
    kernel.parts.push_back({gaussian_weights(blur_mm, pitch.x_mm), gaussian_weights(blur_mm, pitch.y_mm), 1.0f});
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
