#include "printer_fit.hpp"

#include <cmath>

namespace hairline::queue {

// Common practice, no source. The tolerance is that of the six digits of a report.
constexpr double pitch_share = 0.01;   // by which a record's pitch may differ from the job's
constexpr double plate_margin_mm = 1;  // masks may reach over the plate: their edge is mostly dark
constexpr double pitch_tolerance_mm = 1e-6, size_tolerance_mm = 1e-3;

std::optional<Misfit> misfit(const MaskFacts& masks, const QueuePrinter& printer) {
  if (const auto made_on = masks.record_pitch_mm; made_on && !printer.label.empty())
    for (const double pitch_mm : {masks.pitch.x_mm, masks.pitch.y_mm})
      if (std::abs(pitch_mm - *made_on) > *made_on * pitch_share + pitch_tolerance_mm)
        return Misfit{LeftOut::other_pixels, pitch_mm, *made_on};
  if (printer.plate_mm)
    for (std::size_t axis = 0; axis < 2; ++axis)
      if (masks.size_mm[axis] > (*printer.plate_mm)[axis] + plate_margin_mm + size_tolerance_mm)
        return Misfit{LeftOut::too_large, masks.size_mm[axis], (*printer.plate_mm)[axis]};
  return std::nullopt;
}

}  // namespace hairline::queue
