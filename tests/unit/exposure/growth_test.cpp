#include "hairline/growth.hpp"

#include <boost/math/distributions/non_central_chi_squared.hpp>
#include <boost/math/distributions/normal.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "support/random.hpp"

using namespace hairline;
using namespace hairline::test;

namespace {

CureModel worked() {
  CureModel model;
  model.bond_time_s = 1.6;
  model.fuse_time_s = 0.55;
  model.blur_mm = 0.038;
  model.penetration_depth_mm = 0.16;
  return model;
}

CureModel random_model(Random& random) {
  CureModel model;
  model.bond_time_s = random.between_real(1, 3);
  model.fuse_time_s = model.bond_time_s * random.between_real(0.2, 0.6);
  model.blur_mm = random.between_real(0.02, 0.06);
  model.penetration_depth_mm = random.between_real(0.08, 0.3);
  return model;
}

/// The quantity T of the threshold at another layer height, written out.
double fuse_at_height_s(const CureModel& m, double height_mm) {
  const auto a = [&](double h) { return std::exp(-h / m.penetration_depth_mm); };
  return m.fuse_time_s * std::exp((height_mm - m.layer_height_mm) / (2 * m.penetration_depth_mm)) * (1 - a(height_mm)) /
         (1 - a(m.layer_height_mm));
}

}  // namespace

TEST_CASE("an edge grows by the quantile of the blur") {
  // Outside judge: Boost.Math's normal quantile; s Phi^-1(1 - T/t).
  for (std::uint64_t seed = 0; seed < 200; ++seed) {
    Random random(seed);
    const CureModel model = random_model(random);
    const double height = random.between_real(0.02, 0.1), time = random.between_real(1, 40);
    const double share = fuse_at_height_s(model, height) / time;
    INFO("seed " << seed << " share " << share);
    const auto growth = growth_mm(model, height, time);
    REQUIRE(growth.has_value() == (share < 1));
    if (!growth) continue;
    CHECK(*growth == Approx(model.blur_mm * boost::math::quantile(boost::math::normal(), 1 - share)).margin(1e-9));
  }
  // By hand: half light stays where it is drawn; a fifth grows by 0.8416 s, four fifths shrink by as much (tables of
  // the normal distribution).
  const CureModel model = worked();
  CHECK(*growth_mm(model, 0.05, 1.1) == Approx(0).margin(1e-12));
  CHECK(*growth_mm(model, 0.05, 2.75) == Approx(0.038 * 0.8416212).epsilon(1e-6));
  CHECK(*growth_mm(model, 0.05, 0.6875) == Approx(-0.038 * 0.8416212).epsilon(1e-6));
  CHECK_FALSE(growth_mm(model, 0.05, 0.5).has_value());
}

TEST_CASE("a base layer's edge grows as its flare says") {
  CHECK(*growth_mm(worked(), 0.05, 30) == Approx(flare_mm(worked(), 30)));
}

TEST_CASE("printed walls and slots have their edges at the threshold, and wide ones grow by an edge on each side") {
  const boost::math::normal phi;
  for (std::uint64_t seed = 0; seed < 100; ++seed) {
    Random random(seed);
    const CureModel model = random_model(random);
    const double height = random.between_real(0.03, 0.08), time = model.bond_time_s * random.between_real(1.05, 2.5);
    const double share = fuse_at_height_s(model, height) / time;
    const double width = random.between_real(0.05, 0.6);
    INFO("seed " << seed << " width " << width);
    const auto light = [&](double x) {
      return boost::math::cdf(phi, (x + width / 2) / model.blur_mm) -
             boost::math::cdf(phi, (x - width / 2) / model.blur_mm);
    };
    const bool stands = light(0) > share && time * light(0) >= bond_time_s(model, height);
    const auto wall = printed_wall_mm(model, height, time, width), slot = printed_slot_mm(model, height, time, width);
    REQUIRE(wall.has_value() == stands);
    if (wall) CHECK(light(*wall / 2) == Approx(share).margin(1e-4));
    REQUIRE(slot.has_value() == (1 - light(0) < share));
    if (slot) CHECK(1 - light(*slot / 2) == Approx(share).margin(1e-4));
    const auto growth = growth_mm(model, height, time);
    const auto wide = printed_wall_mm(model, height, time, 20 * model.blur_mm);
    if (growth && wide) CHECK(*wide == Approx(20 * model.blur_mm + 2 * *growth).margin(1e-5));
  }
}

TEST_CASE("a pin's light is the integral over its disc") {
  // Outside judge: the chance that a point scattered about `away` by the blur falls into the disc is a non-central chi
  // squared of two degrees of freedom (Boost.Math). On the axis it is the closed form of the model.
  for (const double diameter : {0.05, 0.1, 0.2, 0.6, 2.0}) {
    for (const double away : {0.0, 0.02, 0.05, 0.1, 0.3, 1.02}) {
      const CureModel model = worked();
      INFO("diameter " << diameter << " away " << away);
      const double s2 = model.blur_mm * model.blur_mm;
      const boost::math::non_central_chi_squared scatter(2, away * away / s2);
      CHECK(pin_light_at(model, diameter, away) ==
            Approx(boost::math::cdf(scatter, diameter * diameter / 4 / s2)).margin(1e-6));
      CureModel heavy = model;
      heavy.blur_shape = BlurShape::lorentzian;
      CHECK(pin_light_at(model, diameter, 0) == Approx(pin_light(model, diameter)).margin(1e-6));
      CHECK(pin_light_at(heavy, diameter, 0) == Approx(pin_light(heavy, diameter)).margin(1e-6));
      CHECK(wall_light_at(heavy, diameter, 0) == Approx(wall_light(heavy, diameter)).margin(1e-9));
    }
  }
}

TEST_CASE("printed sizes agree with a dense threshold of the blurred light") {
  // Outside judge: OpenCV's Gaussian blur of a mask of 0.002 mm pixels, cut at T / t. Sizes are odd numbers of pixels.
  const CureModel model = worked();
  constexpr double pixel = 0.002;
  constexpr int side = 601;
  for (const double size : {0.102, 0.15, 0.202, 0.302, 0.502}) {
    for (const double time : {1.9, 2.3, 3.2}) {
      INFO("size " << size << " time " << time);
      cv::Mat bar(side, side, CV_32F, cv::Scalar(0)), disc = bar.clone(), blurred;
      for (int r = 0; r < side; ++r) {
        for (int c = 0; c < side; ++c) {
          const double x = (c - side / 2) * pixel, y = (r - side / 2) * pixel;
          bar.at<float>(r, c) = std::abs(x) <= size / 2 ? 1.0F : 0.0F;
          disc.at<float>(r, c) = std::hypot(x, y) <= size / 2 ? 1.0F : 0.0F;
        }
      }
      const double share = fuse_at_height_s(model, 0.05) / time;
      const auto across = [&](const cv::Mat& mask, bool dark) {
        cv::GaussianBlur(mask, blurred, cv::Size(0, 0), model.blur_mm / pixel);
        int count = 0;
        for (int c = 0; c < side; ++c) {
          const double light = static_cast<double>(blurred.at<float>(side / 2, c));
          count += dark ? 1 - light < share : light >= share;
        }
        return count * pixel;
      };
      if (const auto wall = printed_wall_mm(model, 0.05, time, size))
        CHECK(*wall == Approx(across(bar, false)).margin(2 * pixel));
      if (const auto pin = printed_pin_mm(model, 0.05, time, size))
        CHECK(*pin == Approx(across(disc, false)).margin(2 * pixel));
      CHECK(printed_slot_mm(model, 0.05, time, size).value_or(0) == Approx(across(bar, true)).margin(2 * pixel));
      CHECK(printed_hole_mm(model, 0.05, time, size).value_or(0) == Approx(across(disc, true)).margin(2 * pixel));
    }
  }
}

TEST_CASE("what vanishes or closes by the limits of the model has no printed size") {
  const CureModel model = worked();
  for (const double time : {1.8, 2.3, 3.0}) {
    const double wall = wall_limit_mm(model, time), slot = slot_limit_mm(model, time);
    const double pin = pin_limit_mm(model, time), hole = hole_limit_mm(model, time);
    CHECK_FALSE(printed_wall_mm(model, 0.05, time, wall * 0.999));
    CHECK(printed_wall_mm(model, 0.05, time, wall * 1.001));
    CHECK_FALSE(printed_pin_mm(model, 0.05, time, pin * 0.999));
    CHECK(printed_pin_mm(model, 0.05, time, pin * 1.001));
    CHECK_FALSE(printed_slot_mm(model, 0.05, time, slot * 0.999));
    CHECK(printed_slot_mm(model, 0.05, time, slot * 1.001));
    CHECK_FALSE(printed_hole_mm(model, 0.05, time, hole * 0.999));
    CHECK(printed_hole_mm(model, 0.05, time, hole * 1.001));
  }
}
