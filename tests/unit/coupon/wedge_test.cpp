// What the wedges will show: the place where a wall stops or a slot closes, predicted from the masks by the model's own
// rules (docs/exposure.md, Light, Vanish and Fuse, written out plainly here), against the closed forms
//   wall limit 2 sqrt2 s erfinv(bond / t),  slot limit 2 sqrt2 s erfinv(1 - fuse / t).
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "hairline/coupon.hpp"
#include "hairline/model.hpp"

using namespace hairline;

namespace {

struct Picture {
  int width, height;
  std::vector<double> v;
  double at(int x, int y) const { return v[static_cast<std::size_t>(y * width + x)]; }
};

std::vector<double> kernel(double pitch, double s) {
  const int reach = static_cast<int>(std::ceil(4 * s / pitch)) + 1;
  std::vector<double> w;
  const auto phi = [](double x) { return 0.5 * std::erfc(-x / std::sqrt(2.0)); };
  for (int k = -reach; k <= reach; ++k) w.push_back(phi((k + 0.5) * pitch / s) - phi((k - 0.5) * pitch / s));
  return w;
}

Picture blurred(const Picture& in, Pitch pitch, double s) {
  const std::vector<double> kx = kernel(pitch.x_mm, s), ky = kernel(pitch.y_mm, s);
  const int rx = static_cast<int>(kx.size()) / 2, ry = static_cast<int>(ky.size()) / 2;
  Picture mid = in, out = in;
  for (int y = 0; y < in.height; ++y) {
    for (int x = 0; x < in.width; ++x) {
      double sum = 0;
      for (int k = -rx; k <= rx; ++k) {
        if (x + k >= 0 && x + k < in.width) sum += kx[static_cast<std::size_t>(k + rx)] * in.at(x + k, y);
      }
      mid.v[static_cast<std::size_t>(y * in.width + x)] = sum;
    }
  }
  for (int y = 0; y < in.height; ++y) {
    for (int x = 0; x < in.width; ++x) {
      double sum = 0;
      for (int k = -ry; k <= ry; ++k) {
        if (y + k >= 0 && y + k < in.height) sum += ky[static_cast<std::size_t>(k + ry)] * mid.at(x, y + k);
      }
      out.v[static_cast<std::size_t>(y * in.width + x)] = sum;
    }
  }
  return out;
}

Picture picture_of(const Layer& layer) {
  Picture p{static_cast<int>(layer.size.width_px), static_cast<int>(layer.size.height_px), {}};
  for (const std::uint8_t v : decode(layer)) p.v.push_back(v / 255.0);
  return p;
}

/// The narrowest width at which the wedge still shows a wall (or an open slot): along its axis, the thinnest place with
/// a pixel that holds (stays open).
double predicted_limit(const Coupon& c, const CouponWedge& w, const Picture& mask, const Picture& light,
                       const CureModel& m, double t) {
  const bool wall = w.kind == WedgeKind::wall;
  const double reach = 3 * m.blur_mm;
  const int rx = static_cast<int>(reach / c.pitch.x_mm), ry = static_cast<int>(reach / c.pitch.y_mm);
  const auto solid_at = [&](int x, int y) { return mask.at(x, y) * 255 > 127.5; };
  const auto stays = [&](int x, int y) {
    for (int dy = -ry; dy <= ry; ++dy) {
      for (int dx = -rx; dx <= rx; ++dx) {
        if (std::hypot(dx * c.pitch.x_mm, dy * c.pitch.y_mm) > reach || solid_at(x + dx, y + dy) != wall) continue;
        const double b = light.at(x + dx, y + dy);
        if (wall ? t * b >= m.bond_time_s : t * b < m.fuse_time_s) return true;
      }
    }
    return false;
  };
  double least = w.thick_width_mm;
  const double ux = (w.thin_end.x - w.thick_end.x) / w.length_mm(), uy = (w.thin_end.y - w.thick_end.y) / w.length_mm();
  const PointMm far{w.thin_end.x + 0.5 * ux, w.thin_end.y + 0.5 * uy};
  const int x0 = static_cast<int>(std::min(w.thick_end.x, far.x) / c.pitch.x_mm) - 3;
  const int x1 = static_cast<int>(std::max(w.thick_end.x, far.x) / c.pitch.x_mm) + 3;
  const int y0 = static_cast<int>(std::min(w.thick_end.y, far.y) / c.pitch.y_mm) - 3;
  const int y1 = static_cast<int>(std::max(w.thick_end.y, far.y) / c.pitch.y_mm) + 3;
  for (int y = y0; y <= y1; ++y) {
    for (int x = x0; x <= x1; ++x) {
      const PointMm p{(x + 0.5) * c.pitch.x_mm, (y + 0.5) * c.pitch.y_mm};
      const double aside = (p.x - w.thick_end.x) * -uy + (p.y - w.thick_end.y) * ux;
      const double along = (p.x - w.thick_end.x) * ux + (p.y - w.thick_end.y) * uy;
      if (std::abs(aside) > 0.3 || along < 3 || solid_at(x, y) != wall) continue;
      if (w.width_at_mm(p) < least && stays(x, y)) least = w.width_at_mm(p);
    }
  }
  return least;
}

CureModel model_of(double bond, double fuse, double blur) {
  CureModel m;
  m.bond_time_s = bond, m.fuse_time_s = fuse, m.blur_mm = blur, m.penetration_depth_mm = 0.16;
  return m;
}

void check_wedges(Pitch pitch, const CureModel& m, std::initializer_list<double> times) {
  CouponSettings s;
  s.pitch = pitch;
  s.exposures_s = {2.5};
  const Coupon c = *lay_out_coupon(s);
  const Picture mask = picture_of(draw_coupon_layer(c, 2.5, c.wedges.front().from_layer + 18));
  const Picture light = blurred(mask, pitch, m.blur_mm);
  for (const CouponWedge& w : c.wedges) {
    for (const double t : times) {
      const bool wall = w.kind == WedgeKind::wall;
      INFO((wall ? "wall" : "slot") << " direction " << int(w.direction) << " pitch " << pitch.x_mm << " blur "
                                    << m.blur_mm << " time " << t);
      const double expected = wall ? wall_limit_mm(m, t) : slot_limit_mm(m, t);
      CHECK(predicted_limit(c, w, mask, light, m, t) == Approx(expected).margin(0.01));
    }
  }
}

}  // namespace

TEST_CASE("wedge limits predicted from the masks agree with the closed forms within 0.01 mm") {
  SECTION("the demo's resin at 0.05 mm pixels") {
    check_wedges({0.05, 0.05}, model_of(1.6, 0.55, 0.038), {2.1, 2.3, 2.5, 2.8, 3.2});
  }
  SECTION("unequal, finer pixels") {
    check_wedges({0.034, 0.028}, model_of(1.6, 0.55, 0.038), {2.1, 2.5, 3.2});
  }
  SECTION("more blur") {
    check_wedges({0.05, 0.05}, model_of(1.7, 0.45, 0.05), {2.3, 2.6, 3.2});
  }
  SECTION("less blur") {
    check_wedges({0.04, 0.04}, model_of(1.5, 0.6, 0.03), {2.1, 2.5, 3});
  }
}
