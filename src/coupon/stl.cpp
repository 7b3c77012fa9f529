/// The coupon as a closed surface: the plane is cut into triangles once (arrangement.cpp), the height into bands where
/// prisms begin or end, and the surface is every face between a solid and an empty triangle-and-band.
#include <algorithm>
#include <bit>
#include <cmath>
#include <cstring>
#include <map>

#include "arrangement.hpp"
#include "hairline/coupon.hpp"

namespace hairline {
namespace {

constexpr double steps_per_mm = 10000;

/// Heights of the borders between bands, in layers from the plate: band k lies between borders[k] and borders[k + 1].
std::vector<std::uint32_t> borders_of(const std::vector<CouponPrism>& prisms) {
  std::vector<std::uint32_t> borders;
  for (const CouponPrism& p : prisms) borders.push_back(p.from_layer - 1), borders.push_back(p.to_layer);
  std::sort(borders.begin(), borders.end());
  borders.erase(std::unique(borders.begin(), borders.end()), borders.end());
  return borders;
}

std::uint64_t bands_of(const CouponPrism& p, const std::vector<std::uint32_t>& borders) {
  std::uint64_t bands = 0;
  for (std::size_t k = 0; k + 1 < borders.size(); ++k) {
    if (borders[k] >= p.from_layer - 1 && borders[k + 1] <= p.to_layer) bands |= std::uint64_t{1} << k;
  }
  return bands;
}

struct Vertex {
  float x, y, z;
};

class StlText {
 public:
  StlText() { text_.assign(84, '\0'); }

  void add(Vertex a, Vertex b, Vertex c) {
    const double ux = double(b.x) - a.x, uy = double(b.y) - a.y, uz = double(b.z) - a.z;
    const double vx = double(c.x) - a.x, vy = double(c.y) - a.y, vz = double(c.z) - a.z;
    const double nx = uy * vz - uz * vy, ny = uz * vx - ux * vz, nz = ux * vy - uy * vx;
    const double length = std::sqrt(nx * nx + ny * ny + nz * nz), scale = length > 0 ? 1 / length : 0;
    for (const double n : {nx, ny, nz}) put(static_cast<float>(n * scale));
    for (const Vertex& v : {a, b, c}) put(v.x), put(v.y), put(v.z);
    text_.append(2, '\0');
    ++count_;
  }

  std::string take() {
    const char title[] = "coupon, mm";
    std::memcpy(text_.data(), title, sizeof title - 1);
    for (unsigned i = 0; i < 4; ++i) text_[80 + i] = static_cast<char>(count_ >> (8 * i) & 0xff);
    return std::move(text_);
  }

 private:
  void put(float value) {  // little-endian whatever the machine
    const auto bits = std::bit_cast<std::uint32_t>(value);
    for (unsigned i = 0; i < 4; ++i) text_.push_back(static_cast<char>(bits >> (8 * i) & 0xff));
  }
  std::string text_;
  std::uint32_t count_ = 0;
};

std::vector<LatticePrism> on_lattice(const Coupon& coupon, const std::vector<std::uint32_t>& borders) {
  std::vector<LatticePrism> prisms;
  for (const CouponPrism& p : coupon.prisms) {
    LatticePrism out;
    out.bands = bands_of(p, borders);
    out.cuts = p.cuts;
    for (const PointMm& q : p.outline) {  // y up, seen as on the sheet
      out.outline.push_back({std::llround((q.x - coupon.pad.from.x) * steps_per_mm),
                             std::llround((coupon.pad.to.y - q.y) * steps_per_mm)});
    }
    prisms.push_back(std::move(out));
  }
  return prisms;
}

}  // namespace

std::string coupon_stl(const Coupon& coupon) {
  const std::vector<std::uint32_t> borders = borders_of(coupon.prisms);
  const Arrangement plane = arrange(on_lattice(coupon, borders));

  std::map<std::pair<std::uint32_t, std::uint32_t>, std::uint64_t> left_of;  // solid bands left of a directed edge
  for (const SolidTriangle& t : plane.triangles) {
    for (std::size_t i = 0; i < 3; ++i) left_of[{t.corners[i], t.corners[(i + 1) % 3]}] = t.bands;
  }
  const auto vertex = [&](std::uint32_t point, std::size_t border) {
    const LatticePoint& p = plane.points[point];
    return Vertex{static_cast<float>(static_cast<double>(p.x) / steps_per_mm),
                  static_cast<float>(static_cast<double>(p.y) / steps_per_mm),
                  static_cast<float>(borders[border] * coupon.layer_height_mm)};
  };
  StlText out;
  for (const SolidTriangle& t : plane.triangles) {
    const auto [a, b, c] = t.corners;
    for (std::size_t k = 0; k + 1 < borders.size(); ++k) {
      const std::uint64_t bit = std::uint64_t{1} << k;
      if (!(t.bands & bit)) continue;
      if (k == 0 || !(t.bands & (bit >> 1))) out.add(vertex(a, k), vertex(c, k), vertex(b, k));
      if (!(t.bands & (bit << 1))) out.add(vertex(a, k + 1), vertex(b, k + 1), vertex(c, k + 1));
      for (std::size_t i = 0; i < 3; ++i) {
        const std::uint32_t from = t.corners[i], to = t.corners[(i + 1) % 3];
        const auto beyond = left_of.find({to, from});
        if (beyond != left_of.end() && (beyond->second & bit)) continue;
        out.add(vertex(from, k), vertex(to, k), vertex(to, k + 1));
        out.add(vertex(from, k), vertex(to, k + 1), vertex(from, k + 1));
      }
    }
  }
  return out.take();
}

}  // namespace hairline
