// Chances, spreads and loss curves by themselves. Normal quantiles: standard tables (Phi(1) = 0.841345, Phi(1.644854) =
// 0.95); spreads by hand from g V g; the height term (docs/exposure.md, Other layer heights) by central differences.
#include "risk/certainty.hpp"

#include <catch2/catch.hpp>
#include <cmath>

using namespace hairline;

TEST_CASE("chance: normal in ln exposure, both ways") {
  const double sd = 0.08;
  for (const auto& [z, phi] : std::vector<std::pair<double, double>>{
           {0, 0.5}, {1, 0.8413447}, {-1, 0.1586553}, {1.6448536, 0.95}, {-3, 0.0013499}}) {
    const double critical = 2.5 * std::exp(z * sd);
    CHECK(chance(Fate::vanish, critical, 2.5, sd) == Approx(phi).epsilon(1e-5));
    CHECK(chance(Fate::fuse, critical, 2.5, sd) == Approx(1 - phi).epsilon(1e-5));
  }
  CHECK(chance(Fate::vanish, 2.6, 2.5, 0) == 1);
  CHECK(chance(Fate::vanish, 2.4, 2.5, 0) == 0);
  CHECK(chance(Fate::fuse, 2.4, 2.5, 0) == 1);
}

TEST_CASE("certainty: process spread alone without a covariance, g V g with one") {
  Certainty certainty;
  CHECK(certainty.log_sd(Fate::vanish, 3, 4) == Approx(0.05));
  LogCovariance v{};
  v[0][0] = 0.04 * 0.04, v[1][1] = 0.06 * 0.06, v[2][2] = 0.07 * 0.07, v[3][3] = 0.05 * 0.05;
  v[0][2] = v[2][0] = -0.5 * 0.04 * 0.07;
  v[1][3] = v[3][1] = 0.3 * 0.06 * 0.05;
  certainty.covariance = v;
  CHECK(certainty.log_sd(Fate::vanish, 0, 0) == Approx(std::hypot(0.05, 0.04)));
  CHECK(certainty.log_sd(Fate::fuse, 0, 0) == Approx(std::hypot(0.05, 0.06)));
  CHECK(std::pow(certainty.log_sd(Fate::vanish, 1.2, 0), 2) ==
        Approx(0.0025 + 0.0016 + 1.44 * 0.0049 - 2 * 1.2 * 0.0014));
  CHECK(std::pow(certainty.log_sd(Fate::fuse, 0, -2), 2) == Approx(0.0025 + 0.0036 + 4 * 0.0025 - 4 * 0.0009));
}

TEST_CASE("certainty: blur's second order moves mean and skewness, and nothing where light does not spread") {
  Certainty certainty;
  CHECK(certainty.bend(Fate::vanish, 0.5, 0.2, 0.1).shift == 0);  // no covariance
  LogCovariance v{};
  v[0][0] = v[1][1] = 0.0016, v[2][2] = 0.04;
  certainty.covariance = v;
  CHECK(certainty.bend(Fate::fuse, 0, 0.9, 0.1).shift == 0);  // a wide flat gap
  // A slot 1.26 blur wide lets erfc(a) of the light in, a = w / (2 sqrt2 s); b and k by differentiation.
  const double a = 0.63 / std::sqrt(2.0), dark = std::erfc(a);
  const double b = 2 * a * std::exp(-a * a) / std::sqrt(std::acos(-1.0)) / dark, e = -std::log(dark);
  const double log_sd = std::sqrt(0.0025 + 0.0016 + b * b * 0.04);
  const Bend bend = certainty.bend(Fate::fuse, -b, e, log_sd);
  CHECK(bend.shift == Approx(0.5 * b * b / e * 0.04));
  CHECK(2 * bend.shift / 0.04 == Approx(b * (1 - 2 * a * a + b)).epsilon(0.2));  // the slot's own curvature
  CHECK(bend.share == Approx(b * b * 0.04 / (log_sd * log_sd)));
  // Without skewness only the mean moves; far off nothing does; and both fates make one.
  CHECK(chance(Fate::vanish, 2, 2, 0.1, {0.02, 0}) ==
        Approx(0.5 * std::erfc(-0.02 / std::hypot(0.1, 0.0283) / std::sqrt(2.0))).epsilon(1e-3));
  for (const double t : {1.0, 1.8, 2.0, 2.3, 4.0}) {
    CAPTURE(t);
    const double vanish = chance(Fate::vanish, 2, t, log_sd, bend), fuse = chance(Fate::fuse, 2, t, log_sd, bend);
    CHECK(vanish + fuse == Approx(1));
    CHECK(std::abs(vanish - chance(Fate::vanish, 2, t, log_sd)) < 0.05);
  }
  CHECK(chance(Fate::vanish, 2, 0.5, log_sd, bend) == Approx(1).margin(1e-6));
  CHECK(chance(Fate::vanish, 2, 8, log_sd, bend) == Approx(0).margin(1e-6));
}

TEST_CASE("certainty: the slope of another layer height is the derivative of the thresholds") {
  CureModel model;
  model.bond_time_s = 1.6, model.fuse_time_s = 0.55, model.blur_mm = 0.05, model.penetration_depth_mm = 0.16;
  const Certainty certainty{std::nullopt, 0.05, 0.16, 0.05};
  const double step = 1e-4;
  CureModel more = model, less = model;
  more.penetration_depth_mm *= std::exp(step), less.penetration_depth_mm *= std::exp(-step);
  for (const double h : {0.02, 0.03, 0.05, 0.08, 0.1}) {
    CAPTURE(h);
    const double bond = (std::log(bond_time_s(more, h)) - std::log(bond_time_s(less, h))) / (2 * step);
    CHECK(certainty.height_slope(Fate::vanish, h) == Approx(bond).margin(1e-4));
    // A tall gap: threshold times (1 - exp(-h / Dp)) over the light in it.
    const auto tall = [h](const CureModel& m) { return std::log(fuse_threshold_s(m, h) * (1 - attenuation(m, h))); };
    CHECK(certainty.height_slope(Fate::fuse, h) == Approx((tall(more) - tall(less)) / (2 * step)).margin(1e-4));
  }
}

TEST_CASE("critical range: reaches every voxel with the least chance, at every time") {
  RiskContext context;
  context.model.bond_time_s = 1.6, context.model.fuse_time_s = 0.55, context.model.blur_mm = 0.05;
  context.model.penetration_depth_mm = 0.16;
  context.exposure_s = 2.4;
  context.times_s = {2.4};
  context.layers = {PrintedLayer{.height_mm = 0.05, .exposure_s = 2.4}};
  const ExposureSettings tight = critical_range(context);
  // Phi^-1(0.05) = -1.644854: at 5 % spread a chance of 5 % is reached at 2.4 exp(-+0.0822).
  CHECK(tight.vanish_from_s == Approx(2.4 * std::exp(-0.05 * 1.644854)).epsilon(0.003));
  CHECK(tight.fuse_to_s == Approx(2.4 * std::exp(0.05 * 1.644854)).epsilon(0.003));
  CHECK_FALSE(tight.slopes);
  CHECK(tight.base_share == Approx(std::exp(-0.05 * 1.644854)).epsilon(1e-5));
  CHECK(tight.base_from_s == Approx(2.4));
  context.times_s = {1.2, 2.4, 5};
  CHECK(critical_range(context).vanish_from_s == Approx(1.2 * std::exp(-0.05 * 1.644854)).epsilon(0.003));
  CHECK(critical_range(context).fuse_to_s == Approx(5 * std::exp(0.05 * 1.644854)).epsilon(0.003));
  LogCovariance v{};
  for (std::size_t i = 0; i < 4; ++i) v[i][i] = 0.01;
  context.model.log_covariance = v;
  context.times_s = {2.4};
  const ExposureSettings wide = critical_range(context);
  CHECK(wide.slopes);
  // A pin of light 1 - exp(-v) follows blur by 2 v / (exp(v) - 1) (docs/exposure.md), and so does its spread.
  const double v_there = -std::log(1 - 1.6 / wide.vanish_from_s), slope = 2 * v_there / (std::exp(v_there) - 1);
  CHECK(std::log(2.4 / wide.vanish_from_s) ==
        Approx(1.644854 * std::sqrt(0.0025 + 0.01 + slope * slope * 0.01)).epsilon(0.02));
  CHECK(wide.base_share == Approx(std::exp(-1.644854 * std::sqrt(0.0525))).epsilon(1e-5));
  // A flat gap of 4 Dp: sd^2 = 0.0025 + 0.01 + 16 * 0.01.
  CHECK(wide.fuse_to_s >= 2.4 * std::exp(1.644854 * std::sqrt(0.1725)) * 0.9999);
}
