// Thin places: strands along the columns of the mask find walls and gaps that stand more upright than level, strands
// along the rows of its transpose find the others (a wall at 45 degrees is found by both, once per pixel it counts).
#include <algorithm>
#include <cmath>
#include <numbers>

#include "hairline/measure.hpp"
#include "strands.hpp"
#include "transpose.hpp"

namespace hairline {
namespace {

using inner::Phase;

/// Everything one call needs, kept from layer to layer by each thread; holds no result.
struct Scratch {
  Mask columns;
  inner::TransposeScratch transpose;
  inner::Strands strands;
  inner::Greys greys;
  std::vector<ThinPlace> upright, level;
  std::vector<std::uint32_t> next_in_row;
};

/// How one direction is measured: distances along a run count `along_mm` per pixel, across runs `across_mm`.
struct Direction {
  double along_mm, across_mm;
};

inner::StrandSettings strand_settings(const ThicknessSettings& settings, Direction direction, Phase phase, bool grey) {
  inner::StrandSettings out;
  out.phase = phase;
  out.row_ratio = direction.across_mm / direction.along_mm;
  out.limit_px = settings.limit_mm / direction.along_mm * (1 + 1e-6);  // a wall of just the limit counts
  // A run across a wall at 45 degrees is sqrt 2 times as long as the wall is wide; one pixel for the grid.
  out.longest_run_px = static_cast<std::uint32_t>(std::numbers::sqrt2 * out.limit_px) + 1;
  if (!grey) out.least_px = static_cast<float>(std::min(1.0, out.row_ratio));  // a pixel is there or not
  out.least_angle_cos = std::cos(settings.least_angle_deg * std::numbers::pi / 180);
  return out;
}

/// Calls found(line, run, width_px) for every line (row) with a width, lines rising, runs rising within a line.
template <class Found>
void for_each_width(const inner::Strands& strands, Found found) {
  for (std::size_t g = 0; g < strands.groups.size(); ++g) {
    const std::uint32_t first = strands.first_run[g], last = strands.first_run[g + 1];
    if (first == last) continue;
    const inner::RowGroup& group = strands.groups[g];
    for (std::uint32_t offset = 0; offset < group.count; ++offset) {
      const std::uint32_t entry = strands.entry_of(offset, group.count);
      for (std::uint32_t i = first; i < last; ++i) {
        const float width = strands.widths[strands.runs[i].slot + entry];
        if (width > 0) found(group.row + offset, strands.runs[i], width);
      }
    }
  }
}

/// Adds the middle lines of one direction to the lengths by width; rows that are alike are counted, not walked.
void add_lengths(const inner::Strands& strands, double along_mm, double step_mm, std::vector<double>& lengths_mm) {
  const auto add = [&](float width, double length) {
    if (!(width > 0) || lengths_mm.empty()) return;
    const auto steps = static_cast<std::size_t>(width * along_mm / step_mm + 0.5);
    lengths_mm[std::min(std::max<std::size_t>(steps, 1), lengths_mm.size()) - 1] += length * along_mm;
  };
  for (const inner::ThinRun& run : strands.runs) {
    const std::uint32_t count = strands.groups[run.group].count, entries = strands.entries_of(count);
    for (std::uint32_t entry = 0; entry < entries; ++entry) {
      const std::uint32_t alike = entry == strands.reach ? count - entries + 1 : 1;
      add(strands.widths[run.slot + entry], static_cast<double>(strands.lengths[run.slot + entry]) * alike);
    }
  }
  for (const inner::Stretch& end : strands.ends) add(end.width, end.length);
}

std::uint32_t middle(const inner::ThinRun& run) {
  return (run.begin + run.end) / 2;
}

void list_upright(const inner::Strands& strands, double along_mm, std::vector<ThinPlace>& out) {
  out.clear();
  for_each_width(strands, [&](std::uint32_t row, const inner::ThinRun& run, float width) {
    out.push_back({row, middle(run), static_cast<float>(width * along_mm)});
  });
}

/// Strands of the transpose: lines are columns. Sorted by (row, col) with one counting sort.
void list_level(const inner::Strands& strands, double along_mm, std::uint32_t rows, Scratch& scratch) {
  std::vector<std::uint32_t>& next = scratch.next_in_row;
  next.assign(rows + 1, 0);
  for_each_width(strands, [&](std::uint32_t, const inner::ThinRun& run, float) { ++next[middle(run) + 1]; });
  for (std::uint32_t r = 0; r < rows; ++r) next[r + 1] += next[r];
  scratch.level.resize(next[rows]);
  for_each_width(strands, [&](std::uint32_t col, const inner::ThinRun& run, float width) {
    scratch.level[next[middle(run)]++] = {middle(run), col, static_cast<float>(width * along_mm)};
  });
}

bool before(const ThinPlace& p, const ThinPlace& q) {
  return p.row != q.row ? p.row < q.row : p.col < q.col;
}

/// Merges two sorted lists; a pixel in both keeps the smaller width.
std::vector<ThinPlace> merge(const std::vector<ThinPlace>& p, const std::vector<ThinPlace>& q) {
  std::vector<ThinPlace> out;
  out.reserve(p.size() + q.size());
  std::size_t i = 0, j = 0;
  while (i < p.size() && j < q.size()) {
    if (before(p[i], q[j])) {
      out.push_back(p[i++]);
    } else if (before(q[j], p[i])) {
      out.push_back(q[j++]);
    } else {
      out.push_back(p[i].width_mm <= q[j].width_mm ? p[i] : q[j]);
      ++i;
      ++j;
    }
  }
  out.insert(out.end(), p.begin() + static_cast<std::ptrdiff_t>(i), p.end());
  out.insert(out.end(), q.begin() + static_cast<std::ptrdiff_t>(j), q.end());
  return out;
}

std::size_t width_steps(const ThicknessSettings& settings) {
  return static_cast<std::size_t>(settings.limit_mm / settings.width_step_mm + 0.5);
}

ThinPlaces find(const Layer* layer, const Mask& solid, Pitch pitch, const ThicknessSettings& settings) {
  thread_local Scratch scratch;
  scratch.greys.begin(layer);
  inner::transpose(solid, scratch.columns, scratch.transpose);
  const Direction rows{pitch.x_mm, pitch.y_mm}, columns{pitch.y_mm, pitch.x_mm};
  ThinPlaces out;
  for (const Phase phase : {Phase::solid, Phase::gap}) {
    std::vector<double>& lengths_mm = phase == Phase::solid ? out.wall_lengths_mm : out.gap_lengths_mm;
    lengths_mm.assign(width_steps(settings), 0);
    scratch.greys.turn(false);
    inner::measure_strands(solid, scratch.greys, strand_settings(settings, rows, phase, scratch.greys.any()),
                           scratch.strands);
    add_lengths(scratch.strands, pitch.x_mm, settings.width_step_mm, lengths_mm);
    list_upright(scratch.strands, pitch.x_mm, scratch.upright);
    scratch.greys.turn(true);
    inner::measure_strands(scratch.columns, scratch.greys,
                           strand_settings(settings, columns, phase, scratch.greys.any()), scratch.strands);
    add_lengths(scratch.strands, pitch.y_mm, settings.width_step_mm, lengths_mm);
    list_level(scratch.strands, pitch.y_mm, solid.size.height_px, scratch);
    (phase == Phase::solid ? out.walls : out.gaps) = merge(scratch.upright, scratch.level);
  }
  constexpr std::size_t most_kept = 500'000;
  if (std::max(solid.spans.size(), scratch.upright.size() + scratch.level.size()) > most_kept) scratch = {};
  return out;
}

}  // namespace

ThinPlaces find_thin_places(const Layer& layer, const Mask& solid, Pitch pitch, const ThicknessSettings& settings) {
  return find(&layer, solid, pitch, settings);
}

ThinPlaces find_thin_places(const Mask& solid, Pitch pitch, const ThicknessSettings& settings) {
  return find(nullptr, solid, pitch, settings);
}

std::optional<ThinPlace> thinnest(const std::vector<ThinPlace>& places) {
  const auto least = std::min_element(places.begin(), places.end(),
                                      [](const ThinPlace& p, const ThinPlace& q) { return p.width_mm < q.width_mm; });
  if (least == places.end()) return std::nullopt;
  return *least;
}

}  // namespace hairline
