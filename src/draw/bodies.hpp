/// Pixel by pixel pictures of the bodies of hard plates (PlateKind::turning and after).
#pragma once
#include <vector>

#include "hairline/plates.hpp"

namespace hairline::draw {

/// The pixels of body `body` (0 to plate_bodies - 1) in layer `number`, row-major, of `size`, which is not empty.
/// Worked out in whole numbers from rounded sines (letters: as Canvas does), so equal on any machine.
std::vector<std::uint8_t> draw_body(const PlateSettings& settings, std::uint32_t body, std::uint32_t number, Size size);

}  // namespace hairline::draw
