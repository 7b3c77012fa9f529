// The fast engine against the slow twin, voxel by voxel, on random stacks with grey edges. The bound of one voxel in a
// thousand is the project's own; what differs in practice are voxels whose critical exposure meets the limit to the
// last bit.
#include <catch2/catch.hpp>
#include <cmath>

#include "engine_driver.hpp"
#include "stacks.hpp"

using namespace hairline;

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

struct Difference {
  std::size_t solid = 0, light = 0, settled = 0, vanish = 0, fuse = 0, height = 0, lost = 0;  // voxels that differ
  std::size_t voxels = 0, vanishing = 0, fusing = 0;
};

bool near(double a, double b, double relative) {
  return a == b || std::abs(a - b) <= relative * std::abs(b);
}

Difference compare(const twin::Input& input, const engine::Range& range, double light_tolerance) {
  const twin::Exposed slow = twin::expose(input), fast = engine::run(input, range);
  Difference out;
  out.voxels = slow.solid.values.size();
  const std::size_t layer_size = out.voxels / slow.solid.layers;
  for (std::size_t i = 0; i < out.voxels; ++i) {
    const bool normal = input.plans[i / layer_size].kind == LayerKind::normal;
    out.solid += fast.solid.values[i] != slow.solid.values[i];
    out.light += std::abs(fast.light.values[i] - slow.light.values[i]) > light_tolerance;
    const double settled = normal ? slow.settled_per_s.values[i]
                                  : slow.settled_fixed.values[i] + input.exposure_s * slow.settled_per_s.values[i];
    const double found = normal ? fast.settled_per_s.values[i] : fast.settled_fixed.values[i];
    out.settled += std::abs(found - settled) > 0.001 * settled + 0.01 * light_tolerance + 1e-3;
    if (!normal) continue;
    // Voxels the engine need not list count as never flipping.
    const double vanish = slow.vanish_s.values[i] >= range.vanish_from_s ? slow.vanish_s.values[i] : 0;
    const double fuse = slow.fuse_s.values[i] <= range.fuse_to_s ? slow.fuse_s.values[i] : infinity;
    const double relative = std::max(1e-3, light_tolerance);
    out.vanish += !near(fast.vanish_s.values[i], vanish, relative);
    out.fuse += !near(fast.fuse_s.values[i], fuse, relative);
    if (fuse != infinity && fast.fuse_s.values[i] != infinity)
      out.height += std::abs(fast.flat_height_mm.values[i] - slow.flat_height_mm.values[i]) > 1e-5;
    out.vanishing += vanish != 0;
    out.fusing += fuse != infinity;
    const bool lost = input.exposure_s < fast.vanish_s.values[i] || input.exposure_s >= fast.fuse_s.values[i];
    const bool lost_in_twin = input.exposure_s < slow.vanish_s.values[i] || input.exposure_s >= slow.fuse_s.values[i];
    out.lost += lost != lost_in_twin;
  }
  CHECK(out.solid == 0);
  CHECK(fast.base_vanish_mm3 == Approx(slow.base_vanish_mm3).epsilon(0.002).margin(2e-4));
  CHECK(fast.base_fuse_mm3 == Approx(slow.base_fuse_mm3).epsilon(0.002).margin(2e-4));
  return out;
}

void check(std::uint64_t seed, const stacks::CaseKind& kind, const engine::Range& range = {}) {
  const twin::Input input = stacks::input_of(stacks::random_case(seed, kind), 2.4);
  const Difference d = compare(input, range, 1e-5);
  CAPTURE(seed, d.voxels, d.vanishing, d.fusing, input.model.blur_mm, input.model.penetration_depth_mm);
  CHECK(d.light == 0);
  CHECK(d.settled == 0);
  CHECK(static_cast<double>(d.vanish) <= 0.001 * static_cast<double>(d.voxels));
  CHECK(static_cast<double>(d.fuse) <= 0.001 * static_cast<double>(d.voxels));
  CHECK(static_cast<double>(d.lost) <= 0.001 * static_cast<double>(d.voxels));
  CHECK(static_cast<double>(d.height) <= 0.001 * static_cast<double>(d.voxels));
  // Also of those that are listed at all, nearly none differs.
  CHECK(static_cast<double>(d.vanish) <= 0.002 * static_cast<double>(d.vanishing) + 1);
  CHECK(static_cast<double>(d.fuse) <= 0.002 * static_cast<double>(d.fusing) + 1);
}

}  // namespace

TEST_CASE("engine: equals the twin on plain jobs") {
  for (std::uint64_t seed = 101; seed <= 110; ++seed) check(seed, {});
}
TEST_CASE("engine: equals the twin over several tiles") {
  for (std::uint64_t seed = 121; seed <= 124; ++seed) check(seed, {.side_px = 150, .layer_count = 16});
}
TEST_CASE("engine: equals the twin on unequal pitch and speckle") {
  for (std::uint64_t seed = 141; seed <= 146; ++seed) check(seed, {.unequal_pitch = true, .speckle = true});
}
TEST_CASE("engine: equals the twin with base, transition and exceptions") {
  for (std::uint64_t seed = 161; seed <= 168; ++seed)
    check(seed, {.side_px = 60, .layer_count = 30, .unequal_pitch = true, .base = true, .exceptions = true});
}
TEST_CASE("engine: equals the twin in a narrow range") {
  for (std::uint64_t seed = 181; seed <= 186; ++seed) check(seed, {.base = true}, {2.0, 3.0});
}
TEST_CASE("engine: equals the twin where everything vanishes") {
  // Judged below the bond time every solid voxel is listed, also far from any edge.
  stacks::Case made;
  made.settings = stacks::plain_settings({150, 100}, 4);
  made.model = stacks::plain_model(0.05);
  made.layers = stacks::draw(
      made.settings, [](double x, double y, double) { return x > 0.4 && y > 0.4; }, 1);
  const Difference d = compare(stacks::input_of(made, 1.2), {1.1, 3}, 1e-5);
  CHECK(d.vanishing == 4 * 142 * 92);
  CHECK(d.vanish == 0);
  CHECK(d.lost == 0);
}
TEST_CASE("engine: Lorentzian spread is within 1 % of the exact kernel") {
  // The engine lays the heavy tails down as a mixture of Gaussians; the twin integrates the kernel itself.
  for (std::uint64_t seed = 201; seed <= 204; ++seed) {
    const twin::Input input =
        stacks::input_of(stacks::random_case(seed, {.side_px = 40, .layer_count = 10, .lorentzian = true}), 2.4);
    const Difference d = compare(input, {}, 0.01);
    CAPTURE(seed, d.vanishing, d.fusing);
    CHECK(d.light == 0);
    CHECK(static_cast<double>(d.lost) <= 0.005 * static_cast<double>(d.voxels));
  }
}
