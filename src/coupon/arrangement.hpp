/// Upright prisms over one plane, cut into triangles that all of them share.
#pragma once
#include <array>
#include <cstdint>
#include <vector>

namespace hairline {

/// A point of the plane in whole steps (one ten-thousandth of a millimetre for the coupon), y up.
struct LatticePoint {
  std::int64_t x = 0, y = 0;
  auto operator<=>(const LatticePoint&) const = default;
};

/// The upper and lower limit of a prism are given as a set of height bands, one bit each.
struct LatticePrism {
  std::vector<LatticePoint> outline;  ///< simple polygon, either direction
  std::uint64_t bands = 0;
  bool cuts = false;
};

/// A triangle, anticlockwise, and the bands in which it is solid (never none).
struct SolidTriangle {
  std::array<std::uint32_t, 3> corners{};
  std::uint64_t bands = 0;
};

struct Arrangement {
  std::vector<LatticePoint> points;
  std::vector<SolidTriangle> triangles;  ///< two triangles meet in whole edges only
};

/// Solid in a band is what some adding prism of that band covers and no cutting one does.
Arrangement arrange(const std::vector<LatticePrism>& prisms);

}  // namespace hairline
