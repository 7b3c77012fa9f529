/// Boxes of voxels one byte each, as a judge of the bits of src/closeup.
#pragma once
#include <functional>
#include <vector>

#include "closeup/closeup.hpp"
#include "support/flood.hpp"
#include "support/random.hpp"

namespace hairline::test {

struct Dense {
  BoxVoxels box;
  std::vector<std::uint8_t> values;
  explicit Dense(const BoxVoxels& of) : box(of), values(of.voxels(), 0) {}
  bool holds(const VoxelPlace& v) const {
    return v.layer >= box.from_layer && v.layer <= box.to_layer && v.row >= box.y0 && v.row < box.y1 &&
           v.col >= box.x0 && v.col < box.x1;
  }
  std::uint8_t& at(const VoxelPlace& v) { return values[index(v)]; }
  /// Nothing is beyond the box.
  bool set(const VoxelPlace& v) const { return holds(v) && values[index(v)] != 0; }

 private:
  std::size_t index(const VoxelPlace& v) const {
    const auto wide = static_cast<std::size_t>(box.x1 - box.x0), high = static_cast<std::size_t>(box.y1 - box.y0);
    return ((v.layer - box.from_layer) * high + static_cast<std::size_t>(v.row - box.y0)) * wide +
           static_cast<std::size_t>(v.col - box.x0);
  }
};

template <class F>
void each(const BoxVoxels& box, F f) {
  for (std::uint32_t n = box.from_layer; n <= box.to_layer; ++n)
    for (int y = box.y0; y < box.y1; ++y)
      for (int x = box.x0; x < box.x1; ++x) f(VoxelPlace{n, y, x});
}

/// The 8 around it in its layer, and those straight above and below.
constexpr auto each_joined = [](const VoxelPlace& v, const auto& f) {
  for (int dy = -1; dy <= 1; ++dy)
    for (int dx = -1; dx <= 1; ++dx)
      if (dy != 0 || dx != 0) f(VoxelPlace{v.layer, v.row + dy, v.col + dx});
  f(VoxelPlace{v.layer + 1, v.row, v.col});
  f(VoxelPlace{v.layer - 1, v.row, v.col});
};

/// What hangs together with `from` inside `within`, voxel by voxel.
inline Dense flooded(const std::function<bool(const VoxelPlace&)>& among, const VoxelPlace& from,
                     const BoxVoxels& within) {
  Dense found(within);
  flood(from, each_joined, [&](const VoxelPlace& v) {
    if (!found.holds(v) || found.set(v) || !among(v)) return false;
    found.at(v) = 1;
    return true;
  });
  return found;
}

inline VoxelBits bits_of(const Dense& dense, const BoxVoxels& box) {
  VoxelBits bits(box);
  each(box, [&](const VoxelPlace& v) {
    if (dense.set(v)) bits.set(v.layer, v.row, v.col, v.col + 1);
  });
  return bits;
}

/// How many voxels of the box differ.
template <class Set>
int differing(const VoxelBits& bits, const BoxVoxels& box, Set set) {
  int count = 0;
  each(box, [&](const VoxelPlace& v) { count += bits.at(v.layer, v.row, v.col) != set(v); });
  return count;
}

}  // namespace hairline::test
