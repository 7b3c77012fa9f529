// How critical exposures follow blur and penetration depth: the engine's slopes against closed forms (sources:
// closed_forms.hpp, differentiated) and against differences of two runs of the slow twin.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "engine_driver.hpp"
#include "stacks.hpp"

using namespace hairline;

namespace {

stacks::Case strip_case(int pixels, double blur_mm, bool slot) {
  stacks::Case made;
  made.settings = stacks::plain_settings({81, 31}, slot ? 45 : 2);
  made.model = stacks::plain_model(blur_mm);
  made.layers = stacks::draw(
      made.settings, [&](double x, double, double) { return (x > 36 * 0.05 && x < (36 + pixels) * 0.05) != slot; }, 1);
  return made;
}

}  // namespace

TEST_CASE("engine: walls and slots follow the blur as erf does") {
  for (const double blur_mm : {0.05, 0.08, 0.12})
    for (const int pixels : {1, 3, 5}) {
      const double u = pixels * 0.05 / (2 * std::numbers::sqrt2 * blur_mm);
      const double fall = 2 * u * std::exp(-u * u) / std::sqrt(std::numbers::pi);  // -d erf(u) / d ln(blur)
      const auto middle = static_cast<std::uint32_t>(36 + pixels / 2);
      CAPTURE(blur_mm, pixels);
      engine::Slopes wall, slot;
      engine::run(stacks::input_of(strip_case(pixels, blur_mm, false), 2.5), {0.1, 400}, &wall);
      const bool bulk = std::erf(u) >= 0.98;
      CHECK(wall.blur.at(0, 15, middle) == Approx(bulk ? 0 : fall / std::erf(u)).epsilon(0.03).margin(0.002));
      CHECK(wall.depth.at(0, 15, middle) == 0);
      if (pixels > 2 * static_cast<int>(2 * blur_mm / 0.05 + 0.5 + 1e-9)) continue;  // not a narrow gap
      engine::run(stacks::input_of(strip_case(pixels, blur_mm, true), 2.5), {0.1, 400}, &slot);
      CHECK(slot.blur.at(5, 15, middle) == Approx(-fall / std::erfc(u)).epsilon(0.03).margin(0.002));
    }
}

TEST_CASE("engine: flat gaps follow the penetration depth as exp(g / Dp) does") {
  for (const std::uint32_t slot : {1u, 4u, 9u}) {
    stacks::Case made;
    made.settings = stacks::plain_settings({41, 41}, 4 + slot + 45);
    made.model = stacks::plain_model(0.04);
    made.layers = stacks::draw(
        made.settings, [&](double, double, double z) { return z < 0.2 || z > 0.2 + slot * 0.05; }, 1);
    engine::Slopes slopes;
    engine::run(stacks::input_of(made, 2.5), {0.1, 400}, &slopes);
    CHECK(slopes.depth.at(4, 20, 20) == Approx(-(slot * 0.05) / 0.16).epsilon(1e-4));
    CHECK(slopes.blur.at(4, 20, 20) == Approx(0).margin(1e-6));
  }
}

TEST_CASE("engine: slopes on random jobs are near those of the twin") {
  std::vector<double> vanish, fuse, depth;  // differences
  for (std::uint64_t seed = 501; seed <= 506; ++seed) {
    const stacks::Case drawn = stacks::random_case(seed, {.side_px = 60, .layer_count = 40});
    engine::Slopes slopes;
    const twin::Exposed found = engine::run(stacks::input_of(drawn, 2.4), {1.5, 4}, &slopes);
    const double step = 0.01;
    stacks::Case wide = drawn, deep = drawn;
    wide.model.blur_mm *= 1 + step;
    deep.model.penetration_depth_mm *= 1 + step;
    const twin::Exposed plain = twin::expose(stacks::input_of(drawn, 2.4));
    const twin::Exposed wider = twin::expose(stacks::input_of(wide, 2.4)),
                        deeper = twin::expose(stacks::input_of(deep, 2.4));
    for (std::size_t i = 0; i < found.solid.values.size(); ++i) {
      const auto slope = [&](double from, double to) { return std::log(to / from) / std::log1p(step); };
      if (found.vanish_s.values[i] > 0)
        vanish.push_back(std::abs(slopes.blur.values[i] - slope(plain.vanish_s.values[i], wider.vanish_s.values[i])));
      if (found.fuse_s.values[i] < 4 && wider.fuse_s.values[i] < 8 && deeper.fuse_s.values[i] < 8 &&
          found.flat_height_mm.values[i] == 0) {
        fuse.push_back(std::abs(slopes.blur.values[i] - slope(plain.fuse_s.values[i], wider.fuse_s.values[i])));
      }
      if (found.fuse_s.values[i] < 4 && deeper.fuse_s.values[i] < 8)
        depth.push_back(std::abs(slopes.depth.values[i] - slope(plain.fuse_s.values[i], deeper.fuse_s.values[i])));
    }
  }
  // Walls are exact where the brightest pixel stays the same; for one in eight a disc 1 % wider reaches another. For
  // gaps the engine takes the layer's own light for that of all layers that light it and a tall roof over everything
  // (docs/exposure.md), so most voxels are near and some are not.
  const auto share = [](std::vector<double>& values, double of) {
    std::sort(values.begin(), values.end());
    return values.at(static_cast<std::size_t>(of * static_cast<double>(values.size() - 1)));
  };
  CHECK(vanish.size() > 1000);
  CHECK(share(vanish, 0.8) < 0.002);
  CHECK(fuse.size() > 1000);
  CHECK(share(fuse, 0.5) < 0.05);
  CHECK(share(fuse, 0.75) < 0.25);
  CHECK(depth.size() > 1000);
  CHECK(share(depth, 0.5) < 0.25);
  CHECK(share(depth, 0.9) < 0.85);
}
