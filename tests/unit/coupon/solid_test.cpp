// The STL as a closed solid, and the masks as a thing that stands.
#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cstring>
#include <map>
#include <set>

#include "hairline/coupon.hpp"
#include "support/flood.hpp"

using namespace hairline;
using namespace hairline::test;

namespace {

using Point = std::array<float, 3>;
using Facet = std::array<Point, 3>;

std::uint32_t u32_at(const std::string& text, std::size_t at) {
  std::uint32_t value = 0;
  for (std::size_t i = 0; i < 4; ++i) value |= std::uint32_t{static_cast<unsigned char>(text[at + i])} << (8 * i);
  return value;
}

/// Reads binary STL by its own published layout: 80 bytes, a count, then 50 bytes a facet.
std::vector<Facet> facets_of(const std::string& stl) {
  REQUIRE(stl.size() >= 84);
  const std::uint32_t count = u32_at(stl, 80);
  REQUIRE(stl.size() == 84 + 50 * std::size_t{count});
  std::vector<Facet> facets(count);
  for (std::size_t i = 0; i < count; ++i) {
    for (std::size_t k = 0; k < 9; ++k) {
      const std::uint32_t bits = u32_at(stl, 84 + 50 * i + 12 + 4 * k);
      std::memcpy(&facets[i][k / 3][k % 3], &bits, 4);
    }
  }
  return facets;
}

double volume_mm3(const std::vector<Facet>& facets) {
  double six = 0;
  for (const auto& [a, b, c] : facets) {
    six += double(a[0]) * (double(b[1]) * c[2] - double(b[2]) * c[1]) -
           double(a[1]) * (double(b[0]) * c[2] - double(b[2]) * c[0]) +
           double(a[2]) * (double(b[0]) * c[1] - double(b[1]) * c[0]);
  }
  return six / 6;
}

CouponSettings settings_at(Pitch pitch, double layer_height_mm) {
  CouponSettings s;
  s.pitch = pitch;
  s.layer_height_mm = layer_height_mm;
  s.exposures_s = {2.35};
  return s;
}

double mask_volume_mm3(const Coupon& c, double exposure_s) {
  double pixels = 0;
  for (std::uint32_t n = 1; n <= c.layers; ++n) {
    const Layer layer = draw_coupon_layer(c, exposure_s, n);
    for (std::uint32_t row = 0; row < layer.size.height_px; ++row) {
      for (const Run& r : layer.row(row)) pixels += (r.end - r.begin) * (r.value / 255.0);
    }
  }
  return pixels * c.pitch.pixel_mm2() * c.layer_height_mm;
}

/// Pieces of `now` (8-connected) that share no solid pixel with `below`.
int floating_pieces(const Picture& below, const Picture& now) {
  const Labels labels = slow_labels(now);
  std::vector<bool> rests(labels.count + 1);
  for (std::size_t i = 0; i < below.pixels.size(); ++i)
    if (below.pixels[i] != 0) rests[labels.of_pixel[i]] = true;
  return static_cast<int>(std::count(rests.begin() + 1, rests.end(), false));
}

}  // namespace

TEST_CASE("the STL is closed, every edge shared by two facets, and as large as the masks within 1 %") {
  for (const auto& [pitch, height] :
       {std::pair{Pitch{0.05, 0.05}, 0.05}, std::pair{Pitch{0.022, 0.029}, 0.03}, std::pair{Pitch{0.1, 0.08}, 0.1}}) {
    INFO("pitch " << pitch.x_mm << " x " << pitch.y_mm << " layer " << height);
    const Coupon c = *lay_out_coupon(settings_at(pitch, height));
    const std::vector<Facet> facets = facets_of(coupon_stl(c));
    std::map<std::pair<Point, Point>, int> directed;
    bool proper = true;
    for (const Facet& f : facets) {
      proper = proper && f[0] != f[1] && f[1] != f[2] && f[2] != f[0];
      for (std::size_t i = 0; i < 3; ++i) ++directed[{f[i], f[(i + 1) % 3]}];
    }
    CHECK(proper);
    // Once each way: closed, no edge of three or more facets, all facing the same side.
    bool closed = true;
    for (const auto& [edge, count] : directed) {
      const auto back = directed.find({edge.second, edge.first});
      closed = closed && count == 1 && back != directed.end() && back->second == 1;
    }
    CHECK(closed);
    CHECK(volume_mm3(facets) == Approx(mask_volume_mm3(c, 2.35)).epsilon(0.01));
  }
}

TEST_CASE("the STL's normals are unit vectors that point the way its corners turn") {
  const Coupon c = *lay_out_coupon(settings_at({0.05, 0.05}, 0.05));
  const std::string stl = coupon_stl(c);
  const std::vector<Facet> facets = facets_of(stl);
  double worst = 0;
  for (std::size_t i = 0; i < facets.size(); ++i) {
    const auto& [a, b, d] = facets[i];
    double normal[3], turned[3];
    for (std::size_t k = 0; k < 3; ++k) {
      float value;
      const std::uint32_t bits = u32_at(stl, 84 + 50 * i + 4 * k);
      std::memcpy(&value, &bits, 4);
      normal[k] = value;
      const std::size_t m = (k + 1) % 3, n = (k + 2) % 3;
      turned[k] = (double(b[m]) - a[m]) * (double(d[n]) - a[n]) - (double(b[n]) - a[n]) * (double(d[m]) - a[m]);
    }
    const double length = std::hypot(turned[0], turned[1], turned[2]);
    for (std::size_t k = 0; k < 3; ++k) worst = std::max(worst, std::abs(normal[k] - turned[k] / length));
  }
  CHECK(worst < 1e-6);
}

TEST_CASE("nothing floats: every piece of every layer rests on the layer below, marks and label included") {
  for (const auto& [pitch, height] : {std::pair{Pitch{0.05, 0.05}, 0.05}, std::pair{Pitch{0.1, 0.08}, 0.1}}) {
    CouponSettings s = settings_at(pitch, height);
    s.label = "HG 26-09";
    s.exposures_s = {12.37};
    const Coupon c = *lay_out_coupon(s);
    Picture below = picture_of(draw_coupon_layer(c, 12.37, 1));
    int floating = 0;
    for (std::uint32_t n = 2; n <= c.layers; ++n) {
      Picture now = picture_of(draw_coupon_layer(c, 12.37, n));
      floating += floating_pieces(below, now);
      below = std::move(now);
    }
    CHECK(floating == 0);
  }
}
