#include "words.hpp"

#include <fmt/core.h>

#include <cmath>

#include "../base/and_list.hpp"

namespace hairline {

std::string mm_text(double mm) {
  return fmt::format("{:.2f}", std::abs(mm) < 0.005 ? 0.0 : mm);
}

std::string range_text(double from, double to) {
  const std::string low = mm_text(from), high = mm_text(to);
  return low == high ? low : low + " to " + high;
}

std::string count_text(std::uint64_t count, const char* one, const char* many) {
  return fmt::format("{} {}", count, count == 1 ? one : many);
}

std::string amount_text(double amount) {
  if (amount <= 0) return "0";
  if (amount < 0.001) return "under 0.001";
  if (amount < 0.0995) return fmt::format("{:.3f}", amount);
  if (amount < 9.995) return fmt::format("{:.2f}", amount);
  if (amount < 99.95) return fmt::format("{:.1f}", amount);
  return fmt::format("{:.0f}", amount);
}

std::string parts_and_gaps(std::uint64_t parts, std::uint64_t gaps) {
  if (parts == 0 && gaps == 0) return "nothing";
  if (gaps == 0) return count_text(parts, "part", "parts");
  if (parts == 0) return count_text(gaps, "gap", "gaps");
  return count_text(parts, "part", "parts") + " and " + count_text(gaps, "gap", "gaps");
}

std::string plan::times_text(const std::vector<double>& times_s) {
  return and_list(times_s, [](double time_s) { return fmt::format("{:.1f}", time_s); }) + " s";
}

std::string plan::beside_text(const TimeRow& row, double exposure_s) {
  const bool longer = row.point.exposure_s > exposure_s;
  const std::uint32_t parts = longer ? 0 : row.point.vanish, gaps = longer ? row.point.fuse : 0;
  return fmt::format("at {:.2f} s {} {}", row.point.exposure_s, parts_and_gaps(parts, gaps),
                     parts + gaps == 1 ? "is" : "are");
}

std::string plan::also_lost_text(const AlsoLost& also, double exposure_s) {
  const char* are = also.losses() == 1 ? "is" : "are";
  return fmt::format("{} that {} lost at {:.2f} s {} lost at {:.2f} s too", parts_and_gaps(also.parts, also.gaps), are,
                     also.exposure_s, are, exposure_s);
}

std::string layer_text(std::uint32_t layer, double height_mm) {
  return fmt::format("layer {} ({:.1f} mm up)", layer, height_mm);
}

std::string layer_numbers_text(std::uint32_t from_layer, std::uint32_t to_layer) {
  return from_layer == to_layer ? fmt::format("layer {}", from_layer)
                                : fmt::format("layers {} to {}", from_layer, to_layer);
}

std::string layers_text(std::uint32_t from_layer, std::uint32_t to_layer, const BoxMm& box) {
  if (from_layer == to_layer) return layer_text(from_layer, box.from.z);
  return fmt::format("layers {} to {} ({:.1f} to {:.1f} mm up)", from_layer, to_layer, box.from.z, box.to.z);
}

std::string longest_text(const Crumbs::Place& longest) {
  const auto& [fate, from_layer, to_layer, box] = longest;
  return fmt::format("{:.2f} mm on {}, {}", extent_mm(box), layers_text(from_layer, to_layer, box), place_text(box));
}

std::string hangs_text(double volume_mm3) {
  return fmt::format(" {:.1f} mm3 hang on what may be lost then, so it stays on hold.", volume_mm3);
}

std::string outside_record_text(const CureModel& model) {
  return fmt::format("the times asked for lie outside the record ({:.2f} to {:.2f} s)", model.valid_from_s,
                     model.valid_to_s);
}

std::string uncured_text(double share) {
  return fmt::format("{:.0f} % of the print does not cure", 100 * share);
}

std::string place_text(const BoxMm& box) {
  return fmt::format("at x {:.1f}, y {:.1f} mm", 0.5 * (box.from.x + box.to.x), 0.5 * (box.from.y + box.to.y));
}

}  // namespace hairline
