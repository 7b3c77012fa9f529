// The engine's Lorentzian mixture against the kernel integrated over every pixel of a scene (twin::lorentzian_weight,
// the closed form of the integral of g0 / (2 pi (rho^2 + g0^2)^1.5) over a rectangle).
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>

#include "hairline/exposure.hpp"
#include "support/slow_twin.hpp"

using namespace hairline;

namespace {

constexpr std::uint32_t side = 121, middle = side / 2;

using Inside = std::function<bool(int row, int col)>;  // from the middle pixel

// Critical exposures in the middle: of a wall or pin, or of a slot or hole in what is solid for 30 layers.
double by_engine(const CureModel& model, const Inside& solid_at, bool gap) {
  std::vector<std::uint8_t> pixels;
  for (int r = 0; r < static_cast<int>(side); ++r)
    for (int c = 0; c < static_cast<int>(side); ++c)
      pixels.push_back(solid_at(r - static_cast<int>(middle), c - static_cast<int>(middle)) ? 255 : 0);
  const Layer layer = encode(pixels, {side, side});
  JobSettings job;
  job.size = {side, side};
  job.layer_count = gap ? 30 : 1;
  job.normal_s = 2.5;
  ExposureSettings settings;
  settings.normal_s = 1;
  settings.vanish_from_s = 0.1;
  settings.fuse_to_s = 1000;
  const auto context = ExposureContext::create(model, job.size, job.pitch, printed_layers(job, 1), settings);
  REQUIRE(context.has_value());
  ExposurePass pass(*context);
  std::vector<CriticalLayer> finished;
  const Mask mask = solid(layer);
  for (std::uint32_t n = job.layer_count; n > 0; --n) pass.add(n, layer, mask, finished);
  while (auto one = pass.finish_next()) finished.push_back(std::move(*one));
  for (const CriticalRun& run : gap ? finished.back().fuse : finished.back().vanish)
    if (run.row == middle && run.begin <= middle && middle < run.end) return static_cast<double>(run.critical_s);
  return 0;
}

// Light at the best-lit solid (darkest empty) pixel within 3 blur of the middle, from the kernel itself.
double by_kernel(const CureModel& model, const Inside& solid_at, bool gap) {
  const Pitch pitch;
  const int half = static_cast<int>(middle), reach = static_cast<int>(3 * model.blur_mm / pitch.x_mm * (1 + 1e-9));
  std::vector<double> weight;
  for (int r = 0; r < 2 * half + 1; ++r)
    for (int c = 0; c < 2 * half + 1; ++c) weight.push_back(twin::lorentzian_weight(model.blur_mm, pitch, r, c));
  double best = gap ? 2 : 0;
  // The extreme lies in the middle, or, because the picture ends, as far along a slot as the reach goes.
  for (const int y : {-reach, -1, 0, 1, reach})
    for (int x = -1; x <= 1; ++x) {
      if (std::hypot(x, y) > reach || solid_at(y, x) == gap) continue;
      double light = 0;
      for (int r = -half; r <= half; ++r)
        for (int c = -half; c <= half; ++c)
          if (solid_at(r, c)) light += weight[static_cast<std::size_t>(std::abs(r - y) * side + std::abs(c - x))];
      best = gap ? std::min(best, light) : std::max(best, light);
    }
  return best;
}

void check(double blur_px, const std::string& shape, int pixels, const Inside& in_shape, int block) {
  CureModel model;
  model.bond_time_s = 1.6;
  model.fuse_time_s = 0.55;
  model.penetration_depth_mm = 0.16;
  model.blur_shape = BlurShape::lorentzian;
  model.blur_mm = blur_px * 0.05;
  const bool gap = shape == "slot" || shape == "hole";
  const Inside solid_at = [&](int r, int c) {
    return gap ? !in_shape(r, c) && std::abs(c) <= block && (shape == "slot" || std::abs(r) <= block) : in_shape(r, c);
  };
  const double light = by_kernel(model, solid_at, gap), found = by_engine(model, solid_at, gap);
  CAPTURE(blur_px, shape, pixels, block, light);
  if (gap) {
    const bool narrow = pixels <= 2 * static_cast<int>(2 * blur_px + 0.5 + 1e-9);
    if (narrow) CHECK(found == Approx(0.55 / light).epsilon(0.01));
    if (shape == "slot" && !narrow) CHECK(found == 0);
  } else {
    CHECK(found == Approx(light < 0.98 ? 1.6 / light : 0).epsilon(0.01));
  }
}

}  // namespace

TEST_CASE("engine: lorentzian walls, slots, pins and holes of 1 to 8 pixels are within 1 % of the kernel itself") {
  for (const double blur_px : {0.5, 0.76, 1.5, 2.25, 3.0})
    for (int pixels = 1; pixels <= 8; ++pixels) {
      const auto across = [pixels](int at) { return at >= -(pixels / 2) && at < pixels - pixels / 2; };
      const Inside strip = [&](int, int c) { return across(c); };
      const Inside square = [&](int r, int c) { return across(r) && across(c); };
      check(blur_px, "wall", pixels, strip, 0);
      check(blur_px, "pin", pixels, square, 0);
      for (const int block : {12, 60}) {
        check(blur_px, "slot", pixels, strip, block);
        check(blur_px, "hole", pixels, square, block);
      }
    }
}
