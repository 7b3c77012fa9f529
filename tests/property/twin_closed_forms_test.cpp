// The slow twin against closed forms (sources: closed_forms.hpp).
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "closed_forms.hpp"
#include "stacks.hpp"

using namespace hairline;

namespace {
twin::Exposed by_twin(const twin::Input& input) {
  return twin::expose(input);
}
}  // namespace

TEST_CASE("twin: edges are half lit, corners a quarter") {
  closed_forms::check_edges_and_corners(by_twin);
}
TEST_CASE("twin: walls vanish below bond_time / erf") {
  closed_forms::check_walls(by_twin);
}
TEST_CASE("twin: slots fuse from fuse_time / (1 - erf)") {
  closed_forms::check_slots(by_twin);
}
TEST_CASE("twin: flat slots fuse from fuse_time exp(g / Dp)") {
  closed_forms::check_flat_slots(by_twin);
}
TEST_CASE("twin: sideways holes close chord by chord") {
  closed_forms::check_sideways_holes(by_twin);
}
TEST_CASE("twin: pins and holes") {
  closed_forms::check_pins_and_holes(by_twin);
}
TEST_CASE("twin: Lorentzian walls and pins") {
  closed_forms::check_lorentzian(by_twin, 0.002);
}
TEST_CASE("twin: other heights and times by hand") {
  closed_forms::check_heights_and_factors(by_twin);
}
TEST_CASE("twin: base and transition layers by hand") {
  closed_forms::check_base_by_hand(by_twin);
}

TEST_CASE("twin: weights sum to one and are symmetric") {
  const std::vector<double> weights = twin::gaussian_weights(0.038, 0.05);
  REQUIRE(weights.size() == 9);  // radius ceil(5 * 0.76) = 4
  double sum = 0;
  for (std::size_t k = 0; k < weights.size(); ++k) {
    sum += weights[k];
    CHECK(weights[k] == Approx(weights[weights.size() - 1 - k]).epsilon(1e-9));
  }
  CHECK(sum == Approx(1).epsilon(1e-6));
  CHECK(weights[4] == Approx(std::erf(0.05 / (2 * std::numbers::sqrt2 * 0.038))).epsilon(1e-12));
  double all = 0;
  for (long r = -400; r <= 400; ++r)
    for (long c = -400; c <= 400; ++c) all += twin::lorentzian_weight(0.05, {0.05, 0.05}, r, c);
  // Kernel outside a square of half side X: 1 - (2/pi) atan(X^2 / (g0 sqrt(2 X^2 + g0^2))), about 0.9 g0 / X.
  CHECK(all == Approx(1 - 0.9003 / 400.5).epsilon(1e-4));
}
