#include "closed_forms.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "stacks.hpp"

namespace hairline::closed_forms {
namespace {

using stacks::Case;
using stacks::plain_model;
using stacks::plain_settings;

constexpr double infinity = std::numeric_limits<double>::infinity();

// Share of a Gaussian of standard deviation s within half a width either side, seen from `off` beside the middle.
double strip_share(double width, double s, double off = 0) {
  const double scale = std::numbers::sqrt2 * s;
  return 0.5 * (std::erf((width / 2 + off) / scale) + std::erf((width / 2 - off) / scale));
}

// A strip an even number of pixels wide has no pixel in its middle: its best-lit pixels lie half a pixel beside it.
double pixel_strip_share(int pixels, double pitch, double s) {
  return strip_share(pixels * pitch, s, pixels % 2 == 1 ? 0 : pitch / 2);
}

Case make_case(Size size, std::uint32_t layers, double blur_mm, Pitch pitch, const stacks::Inside& inside,
               int samples = 2) {
  Case made;
  made.settings = plain_settings(size, layers, pitch);
  made.model = plain_model(blur_mm);
  made.layers = stacks::draw(made.settings, inside, samples);
  return made;
}

twin::Exposed run(const Expose& expose, const Case& made, double exposure_s = 2.5) {
  return expose(stacks::input_of(made, exposure_s));
}

void check_wall(const Expose& expose, int pixels, double blur_mm, Pitch pitch, bool along_y) {
  const Size size{61, 61};
  const int first = 26;
  const double step = along_y ? pitch.x_mm : pitch.y_mm;
  const auto inside = [&](double x, double y, double) {
    const double across = along_y ? x : y;
    return across > first * step && across < (first + pixels) * step;
  };
  const Case made = make_case(size, 2, blur_mm, pitch, inside);
  const twin::Exposed exposed = run(expose, made);
  const double share = pixel_strip_share(pixels, step, blur_mm);
  const double expected = share >= 0.98 ? 0 : made.model.bond_time_s / share;  // from there on a wall is bulk
  // The place of a wall's own brightest line, and its edge, which the neighbourhood of 3 blur lifts to the same value
  // as long as the middle is that near.
  const auto middle = static_cast<std::uint32_t>(first + pixels / 2);
  const double found = along_y ? exposed.vanish_s.at(0, 30, middle) : exposed.vanish_s.at(0, middle, 30);
  CAPTURE(pixels, blur_mm, pitch.x_mm, pitch.y_mm, along_y);
  CHECK(found == Approx(expected).epsilon(0.001));
  const double edge = along_y ? exposed.vanish_s.at(0, 30, 26) : exposed.vanish_s.at(0, 26, 30);
  if (pixels * step / 2 < 3 * blur_mm) CHECK(edge == Approx(expected).epsilon(0.001));
}

void check_slot(const Expose& expose, int pixels, double blur_mm, bool along_y) {
  const Size size{81, 41};
  const Pitch pitch{0.05, 0.05};
  const int first = along_y ? 36 : 16;
  const auto inside = [&](double x, double y, double) {
    const double across = along_y ? x : y;
    return !(across > first * 0.05 && across < (first + pixels) * 0.05);
  };
  const Case made = make_case(size, 50, blur_mm, pitch, inside);
  const twin::Exposed exposed = run(expose, made);
  const auto middle = static_cast<std::uint32_t>(first + pixels / 2);
  const double found = along_y ? exposed.fuse_s.at(10, 20, middle) : exposed.fuse_s.at(10, middle, 40);
  CAPTURE(pixels, blur_mm, along_y);
  // The darkest line of a slot is its middle one (two of them when even).
  const double light = 1 - pixel_strip_share(pixels, 0.05, blur_mm);
  const int closes_up_to = 2 * static_cast<int>((2 * blur_mm / 0.05 + 0.5) * (1 + 1e-9));
  if (pixels > closes_up_to) {
    CHECK(found == infinity);
  } else {
    CHECK(found == Approx(made.model.fuse_time_s / light).epsilon(0.002));
  }
}

}  // namespace

void check_edges_and_corners(const Expose& expose) {
  // Edge 0.5, square corner 0.25, far inside 1, far outside 0: half of a symmetric kernel, a quarter of a separable
  // one. Between two pixels, so the mean of both sides is taken.
  const Case made =
      make_case({60, 60}, 1, 0.1, {0.05, 0.05}, [](double x, double y, double) { return x > 1.5 && y > 1.5; });
  const twin::Exposed exposed = run(expose, made);
  const auto& light = exposed.light;
  CHECK(0.5 * (light.at(0, 50, 29) + light.at(0, 50, 30)) == Approx(0.5).epsilon(1e-4));
  CHECK(0.25 * (light.at(0, 29, 29) + light.at(0, 29, 30) + light.at(0, 30, 29) + light.at(0, 30, 30)) ==
        Approx(0.25).epsilon(1e-4));
  CHECK(light.at(0, 45, 45) == Approx(1).epsilon(1e-4));
  CHECK(light.at(0, 10, 10) == Approx(0).margin(1e-6));
  // Outside the image is dark: the last column's pixels see the edge half a pixel away.
  CHECK(light.at(0, 45, 59) == Approx(0.5 + 0.5 * std::erf(0.025 / (std::numbers::sqrt2 * 0.1))).epsilon(1e-4));
}

void check_walls(const Expose& expose) {
  for (const double blur_mm : {0.03, 0.05, 0.08, 0.12})
    for (int pixels = 1; pixels <= 9; ++pixels) {
      check_wall(expose, pixels, blur_mm, {0.05, 0.05}, true);
      check_wall(expose, pixels, blur_mm, {0.05, 0.06}, false);
    }
}

void check_slots(const Expose& expose) {
  for (int pixels = 1; pixels <= 9; ++pixels) {
    check_slot(expose, pixels, 0.13, true);
    check_slot(expose, pixels, 0.06, false);
    check_slot(expose, pixels, 0.049, true);  // 0.98 pixels: slots of up to four pixels close
  }
  check_slot(expose, 1, 0.0175, true);  // 0.35 pixels: a slot of one pixel closes
}

void check_flat_slots(const Expose& expose) {
  for (std::uint32_t slot = 1; slot <= 13; ++slot) {
    const double from = 4 * 0.05, to = (4 + slot) * 0.05;
    const Case made = make_case(
        {41, 41}, 4 + slot + 45, 0.04, {0.05, 0.05}, [&](double, double, double z) { return z < from || z > to; }, 1);
    const twin::Exposed exposed = run(expose, made);
    CAPTURE(slot);
    const double expected = made.model.fuse_time_s * std::exp(slot * 0.05 / made.model.penetration_depth_mm);
    for (std::uint32_t k = 0; k < slot; ++k) {
      if (slot * 0.05 > 4 * made.model.penetration_depth_mm) {
        CHECK(exposed.fuse_s.at(4 + k, 20, 20) == infinity);  // higher than 4 Dp: never taken for a flat gap
      } else {
        CHECK(exposed.fuse_s.at(4 + k, 20, 20) == Approx(expected).epsilon(0.001));  // filled as a whole
      }
    }
    CHECK(exposed.fuse_s.at(3, 20, 20) == infinity);
  }
}

void check_sideways_holes(const Expose& expose) {
  // With next to no blur each column of a hole that runs along y closes by itself, at fuse_time exp(chord / Dp).
  for (const double diameter : {0.2, 0.3, 0.45, 0.6}) {
    const double cx = 20.5 * 0.05, cz = 10 * 0.05;
    const Case made = make_case(
        {41, 9}, 60, 0.004, {0.05, 0.05},
        [&](double x, double, double z) { return std::hypot(x - cx, z - cz) > diameter / 2; }, 1);
    const twin::Exposed exposed = run(expose, made);
    int open_at_t = 0;
    const double t = 2.0, dp = made.model.penetration_depth_mm;
    for (std::uint32_t c = 0; c < 41; ++c) {
      std::uint32_t empty = 0, lowest = 0;
      for (std::uint32_t n = 40; n-- > 0;)
        if (!exposed.solid.at(n, 4, c)) ++empty, lowest = n;
      if (empty == 0) continue;
      CAPTURE(diameter, c, empty);
      CHECK(exposed.fuse_s.at(lowest, 4, c) ==
            Approx(made.model.fuse_time_s * std::exp(empty * 0.05 / dp)).epsilon(0.001));
      open_at_t += exposed.fuse_s.at(lowest, 4, c) > t;
    }
    // What stays open at t is where the chord is longer than Dp ln(t / fuse_time).
    const double closed_chord = dp * std::log(t / made.model.fuse_time_s);
    const double open_mm = diameter > closed_chord ? std::sqrt(diameter * diameter - closed_chord * closed_chord) : 0;
    CHECK(std::abs(open_at_t * 0.05 - open_mm) <= 0.11);  // voxels: one at either end
  }
}

void check_pins_and_holes(const Expose& expose) {
  // A fine pitch: a disc laid down in pixels is blurred by the pixel as well, which adds pitch^2 / 12 to the variance
  // (2 % at half a blur per pixel, 0.3 % here).
  const double blur_mm = 0.1, pitch = 0.02, centre = 50.5 * pitch;
  for (const double diameter : {0.15, 0.25, 0.36}) {
    CAPTURE(diameter);
    const auto in_disc = [&](double x, double y, double) { return std::hypot(x - centre, y - centre) < diameter / 2; };
    const double share = 1 - std::exp(-diameter * diameter / (8 * (blur_mm * blur_mm + pitch * pitch / 6)));
    const Case pins = make_case({101, 101}, 1, blur_mm, {pitch, pitch}, in_disc, 16);
    CHECK(run(expose, pins).vanish_s.at(0, 50, 50) == Approx(pins.model.bond_time_s / share).epsilon(0.003));
    Case holes = make_case(
        {101, 101}, 1, blur_mm, {pitch, pitch}, [&](double x, double y, double z) { return !in_disc(x, y, z); }, 16);
    holes.settings.layer_count = 40;
    holes.layers.resize(40, holes.layers[0]);
    CHECK(run(expose, holes).fuse_s.at(5, 50, 50) == Approx(holes.model.fuse_time_s / (1 - share)).epsilon(0.003));
  }
}

void check_lorentzian(const Expose& expose, double tolerance) {
  const double g0 = 0.05;
  for (int pixels = 1; pixels <= 9; pixels += 2) {
    Case made = make_case({41, 161}, 1, g0, {0.05, 0.05},
                          [&](double x, double, double) { return x > 0.8 && x < 0.8 + pixels * 0.05; });
    made.model.blur_shape = BlurShape::lorentzian;
    const double share = 2 / std::numbers::pi * std::atan(pixels * 0.05 / (2 * g0));
    CAPTURE(pixels);
    CHECK(run(expose, made).vanish_s.at(0, 80, static_cast<std::uint32_t>(16 + pixels / 2)) ==
          Approx(made.model.bond_time_s / share).epsilon(tolerance));
  }
  const double diameter = 0.45, centre = 20.5 * 0.05;
  Case pin = make_case(
      {41, 41}, 1, g0, {0.05, 0.05},
      [&](double x, double y, double) { return std::hypot(x - centre, y - centre) < diameter / 2; }, 16);
  pin.model.blur_shape = BlurShape::lorentzian;
  CHECK(run(expose, pin).light.at(0, 20, 20) ==
        Approx(1 - g0 / std::sqrt(g0 * g0 + diameter * diameter / 4)).epsilon(std::max(tolerance, 0.01)));
}

void check_heights_and_factors(const Expose& expose) {
  // A solid block with a slot 1 px wide and a wall 1 px thick; layers 6 to 8 are 0.03 mm high and print at 2.0 of 2.5
  // s. By hand.
  Case made = make_case(
      {61, 31}, 40, 0.05, {0.05, 0.06},
      [](double x, double, double) { return (x > 0.5 && x < 1.5) || (x > 1.55 && x < 2.5) || (x > 2.75 && x < 2.8); },
      1);
  made.settings.exceptions = {{6, 8, 0.03, 2.0}};
  const twin::Exposed exposed = run(expose, made, 3.0);  // f stays 0.8 whatever the normal exposure
  const double dp = 0.16, f = 0.8, bond = 1.6, fuse = 0.55, s = 0.05;
  const double wide_light = exposed.light.at(5, 15, 20), slot_light = 1 - strip_share(0.05, s);
  CHECK(wide_light == Approx(1).epsilon(1e-4));
  const double wall_light = strip_share(0.05, s);
  CHECK(exposed.vanish_s.at(20, 15, 20) == 0);  // bulk
  CHECK(exposed.vanish_s.at(20, 15, 55) == Approx(bond / wall_light).epsilon(0.001));
  CHECK(exposed.vanish_s.at(6, 15, 55) ==
        Approx(bond * std::exp((0.03 - 0.05) / dp) / (f * wall_light)).epsilon(0.001));
  // Settled light of layer 8 (index 7): its own plus all of 0.05 mm above; then 7 and 6, then 5 and 4.
  const double a = std::exp(-0.05 / dp), thin = std::exp(-0.03 / dp);
  const double above = 1 / (1 - a) * (1 - std::pow(a, 32));  // index 8, 32 layers from there up
  const double at7 = f + a * above, at6 = f + thin * at7, at5 = f + thin * at6, at4 = 1 + thin * at5, at3 = 1 + a * at4;
  const double record = fuse / (1 - a), thin_record = record * std::exp((0.03 - 0.05) / (2 * dp));
  const std::uint32_t slot = 30;
  CHECK(exposed.fuse_s.at(8, 15, slot) == Approx(record / (slot_light * above)).epsilon(0.001));
  CHECK(exposed.fuse_s.at(7, 15, slot) == Approx(thin_record / (slot_light * at7)).epsilon(0.001));
  CHECK(exposed.fuse_s.at(5, 15, slot) == Approx(thin_record / (slot_light * at5)).epsilon(0.001));
  CHECK(exposed.fuse_s.at(4, 15, slot) == Approx(record / (slot_light * at4)).epsilon(0.001));
  CHECK(exposed.fuse_s.at(3, 15, slot) == Approx(record / (slot_light * at3)).epsilon(0.001));
}

void check_base_by_hand(const Expose& expose) {
  // Two base layers at 20 s, one transition layer half way (11.25 s at 2.5 s), then normal ones. A block with a slot 1
  // px wide over all layers and a loose line 1 px wide that is 4 layers high.
  Case made = make_case(
      {61, 31}, 40, 0.05, {0.05, 0.05},
      [](double x, double y, double z) {
        const bool block = (x > 0.5 && x < 1.5) || (x > 1.55 && x < 2.5);
        return block || (x > 2.75 && x < 2.8 && y > 0.2 && y < 1.3 && z < 0.2);
      },
      1);
  made.settings.base_s = 20;
  made.settings.base_layers = 2;
  made.settings.transition_layers = 1;
  const double a = std::exp(-0.05 / 0.16), slot_light = 1 - strip_share(0.05, 0.05);
  const double normal = slot_light * (1 - std::pow(a, 37)) / (1 - a);  // index 3, per second
  const double threshold = 0.55 / (1 - a);
  const twin::Exposed exposed = run(expose, made);
  CHECK(exposed.fuse_s.at(3, 15, 30) == Approx(threshold / normal).epsilon(0.001));
  // At 2.5 s: index 2: 11.25 * 0.317 + a * 2.5 * normal, far over the threshold of 2.05; so are the base layers.
  const double voxel = 0.05 * 0.05 * 0.05;
  CHECK(11.25 * slot_light + a * 2.5 * normal > threshold);
  // The slot's mouths at the image's edge belong to it: no disc of 2.5 px fits in far enough to reach its pixels there.
  CHECK(exposed.base_fuse_mm3 == Approx(3 * 31 * voxel).epsilon(1e-6));
  // The loose line has light erf(w / (2 sqrt2 s)) = 0.383, so it needs 4.18 s, whosever time that is: 20, 11.25 (it
  // holds) or 2.5 s.
  for (const std::uint32_t n : {0u, 1u, 2u, 3u})
    CHECK(exposed.vanish_s.at(n, 15, 55) == Approx(1.6 / strip_share(0.05, 0.05)).epsilon(0.001));
  CHECK(exposed.vanish_s.at(0, 15, 20) == 0);  // bulk
}

}  // namespace hairline::closed_forms
