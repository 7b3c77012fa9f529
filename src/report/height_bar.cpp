#include "height_bar.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "lines.hpp"

namespace hairline {
namespace {

constexpr int label_columns = 16;
constexpr double bar_columns = 20;

struct Band {
  double solid_mm3 = 0;
  std::vector<std::string> names = {};
  std::uint32_t islands = 0;
};

int band_at(const Report& report, int band_count, double height_mm) {
  return static_cast<int>(std::clamp(height_mm / report.job.height_mm * band_count, 0.0, band_count - 1.0));
}

std::vector<Band> bands_of(const Report& report, const std::vector<HeightMark>& marks, int band_count) {
  std::vector<Band> bands(band_count);
  for (const LayerRow& row : report.layers)
    bands[band_at(report, band_count, row.bottom_mm + row.height_mm / 2)].solid_mm3 += row.solid_mm2 * row.height_mm;
  constexpr double inside_mm = 1e-6;
  for (const HeightMark& mark : marks)
    for (int i = band_at(report, band_count, mark.from_mm + inside_mm);
         i <= band_at(report, band_count, mark.to_mm - inside_mm); ++i)
      if (mark.id == 0)
        ++bands[i].islands;
      else
        bands[i].names.push_back(fmt::format("#{}", mark.id));
  for (Band& band : bands)
    if (band.islands > 0) band.names.push_back(fmt::format("{} island{}", band.islands, band.islands == 1 ? "" : "s"));
  return bands;
}

// Marks in more than one place: some band has other ones than another.
bool say_something(const std::vector<Band>& bands) {
  const Band* first = nullptr;
  for (const Band& band : bands) {
    if (band.names.empty()) continue;
    if (first == nullptr) first = &band;
    if (band.names != first->names) return true;
  }
  return false;
}

// Whole columns and, in block characters, eighths of one.
std::string bar(double columns, bool blocks) {
  const auto eighths = static_cast<std::size_t>(std::lround(columns * 8));
  std::string out;
  if (!blocks) return out.append((eighths + 4) / 8, '=');
  static constexpr const char* parts[] = {"", "▏", "▎", "▍", "▌", "▋", "▊", "▉"};
  for (std::size_t i = 0; i < eighths / 8; ++i) out += "█";
  return out + parts[eighths % 8];
}

// As many as there is room for, and how many more.
std::string names_text(const std::vector<std::string>& names, std::size_t columns) {
  std::string out;
  for (std::size_t i = 0; i < names.size(); ++i) {
    const std::string next = (out.empty() ? "" : ", ") + names[i];
    const std::size_t left = names.size() - i;
    const std::size_t rest = left > 1 ? fmt::format(" and {} more", left - 1).size() : 0;
    if (out.size() + next.size() + rest > columns) return out + fmt::format(" and {} more", left);
    out += next;
  }
  return out;
}

std::string line_of(const Report& report, const std::vector<Band>& bands, int index, double most_mm3,
                    const TerminalStyle& style) {
  const Band& band = bands[index];
  const double step_mm = report.job.height_mm / static_cast<double>(bands.size());
  const int digits = report.job.height_mm < 30 ? 1 : 0;
  const std::string label =
      fmt::format("{:.{}f} to {:.{}f} mm", index * step_mm, digits, (index + 1) * step_mm, digits);
  const double columns = most_mm3 > 0 ? bar_columns * band.solid_mm3 / most_mm3 : 0;
  const std::size_t before = label_columns + static_cast<std::size_t>(bar_columns) + 2;
  if (band.names.empty()) return padded_left(label, label_columns) + " " + bar(columns, style.blocks);
  return padded(padded_left(label, label_columns) + " " + bar(columns, style.blocks), before) +
         names_text(band.names, columns_of(style) - before);
}

}  // namespace

std::optional<Picture> height_bar(const Report& report, const std::vector<HeightMark>& marks, int band_count,
                                  const TerminalStyle& style) {
  if (!(report.job.height_mm > 0)) return {};
  const std::vector<Band> bands = bands_of(report, marks, band_count);
  if (!say_something(bands)) return {};
  double most_mm3 = 0;
  for (const Band& band : bands) most_mm3 = std::max(most_mm3, band.solid_mm3);
  Picture picture{"heights", "Solid area up the print, and what is found where."};
  for (int i = band_count - 1; i >= 0; --i) picture.drawing.push_back(line_of(report, bands, i, most_mm3, style));
  return picture;
}

}  // namespace hairline
