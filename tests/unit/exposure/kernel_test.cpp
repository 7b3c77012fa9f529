// Weights of the blur against integrals of the spreads they stand for.
#include "exposure/kernel.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

using namespace hairline;
using namespace hairline::exposure;

namespace {

// Light at the middle of an odd number of lit columns, the rest dark: y takes no part, each axis lets all light
// through.
double wall_light(const Kernel& kernel, int columns) {
  double light = 0;
  for (const KernelPart& part : kernel.parts) {
    for (int k = -(columns / 2); k <= columns / 2; ++k)
      if (std::abs(k) <= part.x.radius())
        light +=
            static_cast<double>(part.share) * static_cast<double>(part.x.weight[static_cast<std::size_t>(std::abs(k))]);
  }
  return light;
}

double sum_of(const AxisWeights& axis) {
  double sum = -static_cast<double>(axis.weight[0]);
  for (const float weight : axis.weight) sum += 2 * static_cast<double>(weight);
  return sum;
}

}  // namespace

TEST_CASE("kernel: a gaussian's weights are its integral over each pixel") {
  for (const double blur_mm : {0.018, 0.038, 0.12}) {
    const Pitch pitch{0.05, 0.03};
    const Kernel kernel = make_kernel(BlurShape::gaussian, blur_mm, pitch);
    REQUIRE(kernel.parts.size() == 1);
    for (const auto& [axis, pitch_mm] :
         {std::pair{kernel.parts[0].x, pitch.x_mm}, std::pair{kernel.parts[0].y, pitch.y_mm}}) {
      for (int k = 0; k <= axis.radius(); ++k) {
        double integral = 0;  // midpoint rule over the density
        constexpr int steps = 2000;
        for (int i = 0; i < steps; ++i) {
          const double x = (k - 0.5 + (i + 0.5) / steps) * pitch_mm / blur_mm;
          integral += std::exp(-x * x / 2) / std::sqrt(2 * std::numbers::pi) * pitch_mm / blur_mm / steps;
        }
        CHECK(axis.weight[static_cast<std::size_t>(k)] == Approx(integral).epsilon(1e-5).margin(1e-9));
      }
      // One in a million may be left out on each side, and one pixel less would leave out more.
      CHECK(sum_of(axis) > 1 - 2.2e-6);
      const double outer_px = axis.radius() - 0.5;
      CHECK((axis.radius() == 1 || std::erfc(outer_px * pitch_mm / blur_mm / std::numbers::sqrt2) / 2 > 1e-6));
    }
    CHECK(kernel.radius_x == kernel.parts[0].x.radius());
    CHECK(kernel.radius_y == kernel.parts[0].y.radius());
  }
}

TEST_CASE("kernel: a heavy tail's parts keep all light, and walls within 1 % of its line spread") {
  for (const double blur_px : {0.5, 1.0, 2.0, 3.0}) {
    INFO("blur " << blur_px);
    const Kernel kernel = make_kernel(BlurShape::lorentzian, 0.05 * blur_px, {0.05, 0.1});
    double shares = 0;
    for (const KernelPart& part : kernel.parts) {
      shares += static_cast<double>(part.share);
      CHECK(sum_of(part.x) == Approx(1).epsilon(1e-6));
      CHECK(sum_of(part.y) == Approx(1).epsilon(1e-6));
      CHECK(part.x.radius() >= part.y.radius());
    }
    CHECK(shares == Approx(1).margin(1e-3));
    // The line spread is the Cauchy law: a wall of width w has (2 / pi) atan(w / (2 g0)) at its middle.
    for (const int columns : {1, 3, 5, 7}) {
      const double expected = 2 / std::numbers::pi * std::atan(columns / (2 * blur_px));
      CHECK(wall_light(kernel, columns) == Approx(expected).epsilon(0.01));
    }
  }
}
