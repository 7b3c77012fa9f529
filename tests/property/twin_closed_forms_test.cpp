// The slow twin against closed forms (sources: closed_forms.hpp) and against details whose numbers follow by hand.
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

TEST_CASE("twin: a rail of pickets falls apart into its pickets") {
  // Pickets 1 px wide, 20 px long, 12 layers high, on a sill of 2 px; between two blocks. All by hand.
  stacks::Case made;
  made.settings = stacks::plain_settings({90, 50}, 20);
  made.model = stacks::plain_model(0.05);
  made.layers = stacks::draw(made.settings, [](double x, double y, double z) {
    if (z < 0.4) return x > 0.25 && x < 4.25 && y > 0.25 && y < 2.25;
    const double from_first = x - 0.5;
    const int picket = static_cast<int>(std::floor(from_first / 0.75));
    return picket >= 0 && picket < 5 && from_first - 0.75 * picket < 0.05 && y > 0.5 && y < 1.5;
  });
  const twin::Input input = stacks::input_of(made, 2.5);
  const twin::Details found = twin::find_details(input, twin::expose(input));
  REQUIRE(found.details.size() == 5);
  CHECK(found.crumbs.empty());
  for (std::size_t i = 0; i < 5; ++i) {
    const twin::Detail& picket = found.details[i];
    CHECK(picket.vanish);
    CHECK(picket.from_layer == 9);
    CHECK(picket.to_layer == 20);
    CHECK(picket.box ==
          BoxPx{static_cast<std::uint32_t>(10 + 15 * i), 10, static_cast<std::uint32_t>(11 + 15 * i), 30});
    CHECK(picket.volume_mm3 == Approx(20 * 12 * 0.05 * 0.05 * 0.05).epsilon(1e-9));
    CHECK(picket.critical_s == Approx(1.6 / std::erf(0.05 / (2 * std::numbers::sqrt2 * 0.05))).epsilon(0.002));
    CHECK(picket.lost_fraction == 1);
    CHECK(picket.probability > 0.999);  // 2.5 s against 4.18 s, spread 5 %
  }
}
