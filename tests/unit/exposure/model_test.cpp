// The closed forms against published derivations: the table of thresholds k for gaussian and lorentzian spread (derived
// from Beer-Lambert and a single dose threshold; Gibson, Rosen, Stucker, Additive Manufacturing Technologies, ch. 4).
#include "hairline/model.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using namespace hairline;

namespace {

CureModel model_with(BlurShape shape) {
  CureModel model;
  model.bond_time_s = 1.6;
  model.fuse_time_s = 0.55;
  model.blur_mm = 0.038;
  model.penetration_depth_mm = 0.16;
  model.blur_shape = shape;
  return model;
}

struct Row {  // limits in units of the blur where light must reach 1/k
  double k, wall, gap, edge, pin, hole;
};
// Three significant digits as printed there.
constexpr Row gaussian_rows[] = {{1.2, 2.77, 0.42, -0.97, 3.79, 1.21}, {1.5, 1.93, 0.86, -0.43, 2.96, 1.80},
                                 {2, 1.35, 1.35, 0, 2.35, 2.35},       {3, 0.86, 1.93, 0.43, 1.80, 2.96},
                                 {5, 0.51, 2.56, 0.84, 1.34, 3.59},    {8, 0.31, 3.07, 1.15, 1.03, 4.08},
                                 {20, 0.13, 3.92, 1.64, 0.64, 4.90}};
constexpr Row lorentzian_rows[] = {{1.2, 7.46, 0.54, -1.73, 11.8, 1.33}, {1.5, 3.46, 1.15, -0.58, 5.66, 2.24},
                                   {2, 2.00, 2.00, 0, 3.46, 3.46},       {3, 1.15, 3.46, 0.58, 2.24, 5.66},
                                   {5, 0.65, 6.16, 1.38, 1.50, 9.80},    {8, 0.40, 10.1, 2.41, 1.11, 15.9},
                                   {20, 0.16, 25.4, 6.31, 0.66, 40.0}};

// Agreement with a value printed to three digits.
void agrees(double value, double printed) {
  CHECK(value == Approx(printed).margin(0.0055).epsilon(0.006));
}

void check_rows(const Row (&rows)[7], BlurShape shape) {
  CureModel model = model_with(shape);
  model.blur_mm = 1;
  model.bond_time_s = model.fuse_time_s = 1;
  for (const Row& row : rows) {
    INFO("k = " << row.k);
    agrees(wall_limit_mm(model, row.k), row.wall);
    agrees(slot_limit_mm(model, row.k), row.gap);
    agrees(pin_limit_mm(model, row.k), row.pin);
    agrees(hole_limit_mm(model, row.k), row.hole);
    agrees(flare_mm(model, row.k), std::max(0.0, row.edge));
  }
}

}  // namespace

TEST_CASE("limits agree with the derived table for gaussian spread") {
  check_rows(gaussian_rows, BlurShape::gaussian);
}
TEST_CASE("limits agree with the derived table for lorentzian spread") {
  check_rows(lorentzian_rows, BlurShape::lorentzian);
}

TEST_CASE("a record covers its range with both ends") {
  CureModel model;
  model.valid_from_s = 1.8, model.valid_to_s = 3.2;
  for (const double exposure_s : {1.8, 2.5, 3.2, 1.8 - 1e-9, 3.2 + 1e-9}) CHECK(covers(model, exposure_s));
  for (const double exposure_s : {1.79, 3.21, 0.0}) CHECK_FALSE(covers(model, exposure_s));
}

TEST_CASE("light in walls, slots, pins and holes is the integral of the spread") {
  // Midpoint rule over the line spread (bars) and the point spread (discs), the definitions themselves.
  constexpr double pi = 3.14159265358979323846;
  for (const BlurShape shape : {BlurShape::gaussian, BlurShape::lorentzian}) {
    const CureModel model = model_with(shape);
    const double s = model.blur_mm;
    for (const double size : {0.02, 0.05, 0.11, 0.2, 0.4}) {
      double bar = 0, disc = 0;
      constexpr int steps = 20000;
      for (int i = 0; i < steps; ++i) {
        const double x = (i + 0.5) / steps * size / 2, dx = size / 2 / steps;
        const bool gaussian = shape == BlurShape::gaussian;
        bar +=
            2 * dx * (gaussian ? std::exp(-x * x / (2 * s * s)) / (s * std::sqrt(2 * pi)) : s / (pi * (x * x + s * s)));
        disc += 2 * pi * x * dx *
                (gaussian ? std::exp(-x * x / (2 * s * s)) / (2 * pi * s * s)
                          : s / (2 * pi * std::pow(x * x + s * s, 1.5)));
      }
      CHECK(wall_light(model, size) == Approx(bar).epsilon(1e-6));
      CHECK(slot_light(model, size) == Approx(1 - bar).epsilon(1e-6).margin(1e-8));
      CHECK(pin_light(model, size) == Approx(disc).epsilon(1e-6));
      CHECK(hole_light(model, size) == Approx(1 - disc).epsilon(1e-6).margin(1e-8));
    }
  }
}

TEST_CASE("limits invert the light at every exposure") {
  for (const BlurShape shape : {BlurShape::gaussian, BlurShape::lorentzian}) {
    const CureModel model = model_with(shape);
    for (double t = 1.62; t < 60; t *= 1.2) {
      CHECK(wall_light(model, wall_limit_mm(model, t)) == Approx(1.6 / t).epsilon(1e-10));
      CHECK(slot_light(model, slot_limit_mm(model, t)) == Approx(0.55 / t).epsilon(1e-10));
      CHECK(pin_light(model, pin_limit_mm(model, t)) == Approx(1.6 / t).epsilon(1e-10));
      CHECK(hole_light(model, hole_limit_mm(model, t)) == Approx(0.55 / t).epsilon(1e-10));
      CHECK(0.55 * std::exp(flat_slot_limit_mm(model, t) / 0.16) == Approx(t).epsilon(1e-10));
    }
  }
}

TEST_CASE("limits at their ends are 0 or infinite") {
  const CureModel model = model_with(BlurShape::gaussian);
  CHECK(std::isinf(wall_limit_mm(model, 1.6)));
  CHECK(std::isinf(pin_limit_mm(model, 1.0)));
  CHECK(slot_limit_mm(model, 0.55) == 0);
  CHECK(hole_limit_mm(model, 0.3) == 0);
  CHECK(flat_slot_limit_mm(model, 0.5) == 0);
  CHECK(flare_mm(model, 1.1) == 0);
  CHECK(flare_mm(model, 1.2) > 0);
  CHECK(wall_light(model, 0) == 0);
  CHECK(slot_light(model, 0) == 1);
}

TEST_CASE("a wide straight edge flares where its light equals the fuse share") {
  const CureModel model = model_with(BlurShape::gaussian);
  // Edge profile 0.5 erfc(x / (s sqrt 2)).
  const double x = flare_mm(model, 30);
  CHECK(0.5 * std::erfc(x / (0.038 * std::sqrt(2.0))) == Approx(0.55 / 30).epsilon(1e-9));
}

TEST_CASE("another layer height scales the times by the working curve") {
  const CureModel model = model_with(BlurShape::gaussian);
  CHECK(bond_time_s(model, 0.05) == 1.6);
  CHECK(bond_time_s(model, 0.1) == Approx(1.6 * std::exp(0.05 / 0.16)));
  CHECK(fuse_time_s(model, 0.03) == Approx(0.55 * std::exp(-0.02 / 0.32)));
  // Interior of many equal layers: S = E / (1 - r), r = 0.732 at 50 um and Dp 160 um.
  CHECK(fuse_threshold_s(model, 0.05) == Approx(0.55 / (1 - std::exp(-0.05 / 0.16))));
  // r of the published worked numbers (Beer-Lambert): h 50 um, Dp 33 / 54 / 100 / 200 um.
  CureModel other = model;
  const double r[][2] = {{0.033, 0.220}, {0.054, 0.396}, {0.1, 0.607}, {0.2, 0.779}};
  for (const auto& [dp, expected] : r) {
    other.penetration_depth_mm = dp;
    CHECK(attenuation(other, 0.05) == Approx(expected).margin(0.0005));
  }
}
