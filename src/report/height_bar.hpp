// Where up the print the findings sit, drawn in characters.
#pragma once
#include <optional>

#include "wording.hpp"

namespace hairline {

// A loss by its id (0: an island), and the heights it takes.
struct HeightMark {
  std::uint32_t id = 0;
  double from_mm = 0, to_mm = 0;
};

// The print in so many bands of equal height, the highest first: the solid area of each as a bar, and the marks in it.
// Nothing where all marks lie in the same bands.
std::optional<Picture> height_bar(const Report& report, const std::vector<HeightMark>& marks, int band_count,
                                  const TerminalStyle& style);

}  // namespace hairline
