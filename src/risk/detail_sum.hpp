/// What is known of connected voxels, summed up.
#pragma once
#include <cmath>
#include <cstdint>
#include <vector>

#include "critical_bins.hpp"
#include "hairline/measure.hpp"

namespace hairline::risk {

struct DetailSum {
  std::uint64_t voxels = 0, flipped = 0;
  double volume_mm3 = 0;
  BoxPx box;
  std::uint32_t from_layer = 0, to_layer = 0;
  float width_mm = INFINITY;  ///< narrowest so far; infinity: none found
  bool flat = false;          ///< that is the height of a flat gap
  CriticalBins bins;

  /// Takes over the voxels of another.
  void absorb(DetailSum&& other);
};

/// What a detail carried in one body when its lowest layer was done: all of it is printed later than the detail begins.
struct Load {
  std::uint32_t body = 0;
  double volume_mm3 = 0;
};

/// What a detail that vanishes has to do with bodies: the tracker's business. Lists are sorted.
struct Bonds {
  std::vector<std::uint32_t> held, resting;  ///< bodies above and beside the detail, and beneath it
  std::vector<std::uint32_t> starts;         ///< pieces it leaves in the air
  std::vector<Load> loads;                   ///< once the detail is at its end

  void absorb(const Bonds& other);  ///< all but the loads
};

/// Puts a number into a sorted list, once.
void note(std::vector<std::uint32_t>& sorted, std::uint32_t number);

}  // namespace hairline::risk
