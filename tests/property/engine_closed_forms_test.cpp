// The fast engine against closed forms (sources: closed_forms.hpp).
#include <catch2/catch.hpp>

#include "closed_forms.hpp"
#include "engine_driver.hpp"

using namespace hairline;

namespace {
twin::Exposed by_engine(const twin::Input& input) {
  return engine::run(input, {0.1, 400});
}
}  // namespace

TEST_CASE("engine: edges are half lit, corners a quarter") {
  closed_forms::check_edges_and_corners(by_engine);
}
TEST_CASE("engine: walls vanish below bond_time / erf") {
  closed_forms::check_walls(by_engine);
}
TEST_CASE("engine: slots fuse from fuse_time / (1 - erf)") {
  closed_forms::check_slots(by_engine);
}
TEST_CASE("engine: flat slots fuse from fuse_time exp(g / Dp)") {
  closed_forms::check_flat_slots(by_engine);
}
TEST_CASE("engine: sideways holes close chord by chord") {
  closed_forms::check_sideways_holes(by_engine);
}
TEST_CASE("engine: pins and holes") {
  closed_forms::check_pins_and_holes(by_engine);
}
TEST_CASE("engine: Lorentzian walls and pins") {
  closed_forms::check_lorentzian(by_engine, 0.005);
}
TEST_CASE("engine: other heights and times by hand") {
  closed_forms::check_heights_and_factors(by_engine);
}
TEST_CASE("engine: base and transition layers by hand") {
  closed_forms::check_base_by_hand(by_engine);
}
