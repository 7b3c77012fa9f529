/// Flood fill, for judges: what hangs together, found one place at a time.
#pragma once
#include <cstdint>
#include <vector>

#include "support/text_mask.hpp"

namespace hairline::test {

/// Everything that hangs together with `start`, which is first. each_beside(place, f) calls f with all places beside
/// one; take(place) says whether it belongs and was not taken before, and remembers it.
template <class Place, class EachBeside, class Take>
std::vector<Place> flood(const Place& start, EachBeside each_beside, Take take) {
  std::vector<Place> found;
  const auto look = [&](const Place& place) {
    if (take(place)) found.push_back(place);
  };
  look(start);
  for (std::size_t next = 0; next < found.size(); ++next) each_beside(Place(found[next]), look);
  return found;
}

/// 8-connected labels, 0 = background, numbered from 1 by first pixel in row order.
struct Labels {
  Size size;
  std::vector<std::uint32_t> of_pixel;
  std::uint32_t count = 0;
  std::uint32_t at(std::uint32_t row, std::uint32_t col) const {
    return of_pixel[std::size_t{row} * size.width_px + col];
  }
};

inline Labels slow_labels(const Picture& picture) {
  struct Pixel {
    std::int64_t row, col;
  };
  Labels out{picture.size, std::vector<std::uint32_t>(picture.pixels.size(), 0), 0};
  const auto label = [&](const Pixel& p) -> std::uint32_t& {
    return out.of_pixel[static_cast<std::size_t>(p.row * picture.size.width_px + p.col)];
  };
  const auto each_of_eight = [](const Pixel& p, const auto& f) {
    for (std::int64_t dr = -1; dr <= 1; ++dr)
      for (std::int64_t dc = -1; dc <= 1; ++dc) f(Pixel{p.row + dr, p.col + dc});
  };
  for (std::int64_t row = 0; row < picture.size.height_px; ++row) {
    for (std::int64_t col = 0; col < picture.size.width_px; ++col) {
      if (!picture.set(row, col) || label({row, col}) != 0) continue;
      ++out.count;
      flood(Pixel{row, col}, each_of_eight, [&](const Pixel& p) {
        if (!picture.set(p.row, p.col) || label(p) != 0) return false;
        label(p) = out.count;
        return true;
      });
    }
  }
  return out;
}

}  // namespace hairline::test
