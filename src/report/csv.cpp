#include <fmt/format.h>

#include <cmath>

#include "hairline/report.hpp"
#include "words.hpp"

namespace hairline {
namespace {

std::string number(double value) {
  return std::isfinite(value) ? fmt::format("{:.6g}", value) : std::string();
}

std::string number(const std::optional<double>& value) {
  return value ? number(*value) : std::string();
}

}  // namespace

// Numbers and fixed words only, so nothing ever needs quotes; lines end in CR LF as RFC 4180, section 2 has it.
std::string to_csv(const Report& report) {
  std::string csv =
      "layer,bottom_mm,height_mm,exposure_s,kind,solid_mm2,contact_mm2,pieces,islands,specks,"
      "thinnest_wall_mm,wall_x_mm,wall_y_mm,thinnest_gap_mm,gap_x_mm,gap_y_mm\r\n";
  for (const LayerRow& row : report.layers) {
    const bool wall = row.thinnest_wall_mm.has_value(), gap = row.thinnest_gap_mm.has_value();
    csv += fmt::format("{},{},{},{},{},{},{},{},{},{},{},{},{},{},{},{}\r\n", row.layer, number(row.bottom_mm),
                       number(row.height_mm), number(row.exposure_s), word_of(row.kind), number(row.solid_mm2),
                       number(row.contact_mm2), row.pieces, row.islands, row.specks, number(row.thinnest_wall_mm),
                       wall ? number(row.wall_at.x) : "", wall ? number(row.wall_at.y) : "",
                       number(row.thinnest_gap_mm), gap ? number(row.gap_at.x) : "", gap ? number(row.gap_at.y) : "");
  }
  return csv;
}

std::string to_sweep_csv(const Report& report) {
  std::string csv = "exposure_s,vanish,fuse,vanish_mm3,fuse_mm3,expected_losses,expected_mm,bulk_chance\r\n";
  if (!report.suggestion) return csv;
  for (const SweepPoint& point : report.suggestion->sweep)
    csv += fmt::format("{},{},{},{},{},{},{},{}\r\n", number(point.exposure_s), point.vanish, point.fuse,
                       number(point.vanish_mm3), number(point.fuse_mm3), number(point.expected_losses),
                       number(point.expected_mm), number(point.bulk_chance));
  return csv;
}

}  // namespace hairline
