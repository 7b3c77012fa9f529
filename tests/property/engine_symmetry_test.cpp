// Laws the exposure engine keeps whatever the job: mirror, quarter turn, shift, doubled layers.
#include <catch2/catch.hpp>
#include <cmath>

#include "engine_driver.hpp"
#include "stacks.hpp"

using namespace hairline;

namespace {

constexpr double t = 2.4;
const engine::Range range{0.5, 20};

// Voxels that differ between two results, the second looked up at a moved place.
template <class Where>
std::size_t differing(const twin::Exposed& a, const twin::Exposed& b, const Where& where) {
  std::size_t count = 0;
  const auto same = [](double x, double y) { return x == y || std::abs(x - y) <= 1e-4 * std::abs(y); };
  for (std::uint32_t n = 0; n < a.solid.layers; ++n)
    for (std::uint32_t r = 0; r < a.solid.rows; ++r)
      for (std::uint32_t c = 0; c < a.solid.cols; ++c) {
        const auto [row, col] = where(r, c);
        count += !same(a.vanish_s.at(n, r, c), b.vanish_s.at(n, row, col)) ||
                 !same(a.fuse_s.at(n, r, c), b.fuse_s.at(n, row, col)) ||
                 a.propped.at(n, r, c) != b.propped.at(n, row, col) ||
                 std::abs(a.light.at(n, r, c) - b.light.at(n, row, col)) > 1e-6;
      }
  return count;
}

void check_base(const twin::Exposed& a, const twin::Exposed& b) {
  CHECK(a.base_fuse_mm3 == Approx(b.base_fuse_mm3).margin(1e-9));
}

stacks::CaseKind rich() {
  return {.side_px = 70, .unequal_pitch = true, .base = true, .exceptions = true};
}

}  // namespace

TEST_CASE("engine: a mirrored job gives the mirrored losses") {
  for (std::uint64_t seed = 301; seed <= 303; ++seed) {
    const stacks::Case drawn = stacks::random_case(seed, rich());
    const twin::Exposed plain = engine::run(stacks::input_of(drawn, t), range);
    const twin::Exposed other = engine::run(stacks::input_of(stacks::mirrored(drawn), t), range);
    const std::uint32_t width = drawn.settings.size.width_px;
    CAPTURE(seed);
    CHECK(differing(plain, other, [&](std::uint32_t r, std::uint32_t c) { return std::pair{r, width - 1 - c}; }) == 0);
    check_base(plain, other);
  }
}

TEST_CASE("engine: rows and columns may change places, with their pitches") {
  for (std::uint64_t seed = 311; seed <= 313; ++seed) {
    const stacks::Case drawn = stacks::random_case(seed, rich());
    const twin::Exposed plain = engine::run(stacks::input_of(drawn, t), range);
    const twin::Exposed other = engine::run(stacks::input_of(stacks::quarter_turned(drawn), t), range);
    CAPTURE(seed);
    CHECK(differing(plain, other, [](std::uint32_t r, std::uint32_t c) { return std::pair{c, r}; }) == 0);
    check_base(plain, other);
  }
}

TEST_CASE("engine: a job laid elsewhere on the plate gives the same losses there") {
  // Away from the image's edges, across which nothing is looked at; the offsets cross tiles.
  for (std::uint64_t seed = 321; seed <= 323; ++seed) {
    const stacks::Case drawn = stacks::random_case(seed, {.side_px = 40, .layer_count = 16, .base = true});
    const twin::Exposed here = engine::run(stacks::input_of(stacks::laid_into(drawn, {160, 120}, 16, 16), t), range);
    const twin::Exposed there = engine::run(stacks::input_of(stacks::laid_into(drawn, {160, 120}, 75, 49), t), range);
    std::size_t count = 0;
    for (std::uint32_t n = 0; n < here.solid.layers; ++n)
      for (std::uint32_t r = 0; r < 56; ++r)
        for (std::uint32_t c = 0; c < 72; ++c) {
          const double a = here.vanish_s.at(n, r, c), b = there.vanish_s.at(n, r + 33, c + 59);
          const double d = here.fuse_s.at(n, r, c), e = there.fuse_s.at(n, r + 33, c + 59);
          count += std::abs(a - b) > 1e-4 * b || (d != e && !(std::abs(d - e) <= 1e-4 * e));
        }
    CAPTURE(seed);
    CHECK(count == 0);
    check_base(here, there);
  }
}

TEST_CASE("engine: every layer twice at half the height") {
  // With a = exp(-h / Dp): each half layer needs a^(1/2) as much light to bond, and settled light in the lower half of
  // a layer is (1 + a^(1/2)) times that of the whole layer, while the fuse threshold scales by a^(1/4). Follows
  // from how light settles and times scale with height.
  for (std::uint64_t seed = 331; seed <= 333; ++seed) {
    const stacks::Case drawn = stacks::random_case(seed, {.side_px = 70, .layer_count = 16, .unequal_pitch = true});
    const double a = std::exp(-0.05 / drawn.model.penetration_depth_mm);
    const double vanish_factor = std::sqrt(a), fuse_factor = std::pow(a, 0.25) / (1 + std::sqrt(a));
    const twin::Exposed whole = engine::run(stacks::input_of(drawn, t), {0.5, 20});
    const twin::Exposed halves = engine::run(stacks::input_of(stacks::doubled(drawn), t), {0.1, 40});
    std::size_t vanish = 0, fuse = 0, listed = 0;
    for (std::uint32_t n = 0; n < whole.solid.layers; ++n)
      for (std::uint32_t r = 0; r < whole.solid.rows; ++r)
        for (std::uint32_t c = 0; c < whole.solid.cols; ++c) {
          const double v = whole.vanish_s.at(n, r, c) * vanish_factor, f = whole.fuse_s.at(n, r, c) * fuse_factor;
          if (v > 0) {
            vanish += std::abs(halves.vanish_s.at(2 * n, r, c) - v) > 1e-3 * v;
            vanish += std::abs(halves.vanish_s.at(2 * n + 1, r, c) - v) > 1e-3 * v;
            ++listed;
          }
          if (f < 1e6) {
            // A flat gap is filled as a whole; its earliest half layer is a lower one.
            fuse += std::abs(halves.fuse_s.at(2 * n, r, c) - f) > 1e-3 * f;
            ++listed;
          }
        }
    CAPTURE(seed, listed);
    CHECK(listed > 100);
    CHECK(vanish == 0);
    CHECK(fuse <= listed / 1000);
  }
}
