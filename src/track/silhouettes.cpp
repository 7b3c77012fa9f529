#include "silhouettes.hpp"

#include <algorithm>
#include <cmath>

namespace hairline {
namespace {

constexpr double most_pixels = 800;

double pixel_of(Size size, Pitch pitch, double height_mm) {
  const double longest_mm = std::max({size.width_px * pitch.x_mm, size.height_px * pitch.y_mm, height_mm});
  return std::max({longest_mm / most_pixels, std::min(pitch.x_mm, pitch.y_mm)});
}

// What is there already is nearer.
void fill_free(std::uint32_t* row, std::uint32_t begin, std::uint32_t end, std::uint32_t value) {
  for (std::uint32_t i = begin; i < end; ++i)
    if (row[i] == 0) row[i] = value;
}

}  // namespace

SilhouetteDrawer::Axis::Axis(double length_mm, double pixel_mm)
    : pixel_mm_(pixel_mm), pixels_(std::max(1u, static_cast<std::uint32_t>(std::ceil(length_mm / pixel_mm - 1e-6)))) {}

// Edges go to the nearest border between pixels; what would be nothing then is the pixel its middle lies in.
SilhouetteDrawer::Bins SilhouetteDrawer::Axis::bins(double from_mm, double to_mm) const {
  const double from = from_mm / pixel_mm_, to = to_mm / pixel_mm_;
  const auto begin = static_cast<std::uint32_t>(from + 0.5), end = static_cast<std::uint32_t>(to + 0.5);
  if (begin < end) return {std::min(begin, pixels_ - 1), std::min(end, pixels_)};
  const std::uint32_t middle = std::min(static_cast<std::uint32_t>(0.5 * (from + to)), pixels_ - 1);
  return {middle, middle + 1};
}

SilhouetteDrawer::Grid SilhouetteDrawer::grid(const Axis& across, const Axis& down) const {
  return {across.pixels(), down.pixels(), std::vector<std::uint32_t>(std::size_t{across.pixels()} * down.pixels(), 0)};
}

SilhouetteDrawer::SilhouetteDrawer(Size size, Pitch pitch, const std::vector<PrintedLayer>& layers)
    : pitch_(pitch),
      layers_(layers),
      pixel_mm_(pixel_of(size, pitch, layers.back().top_mm())),
      x_(size.width_px * pitch.x_mm, pixel_mm_),
      y_(size.height_px * pitch.y_mm, pixel_mm_),
      z_(layers.back().top_mm(), pixel_mm_),
      front_(grid(x_, z_)),
      side_(grid(y_, z_)),
      top_(grid(x_, y_)) {
  for (std::uint32_t r = 0; r < size.height_px; ++r)
    bins_of_row_.push_back(y_.bins(r * pitch.y_mm, (r + 1) * pitch.y_mm));
}

// Rows from the largest y on: the first that covers a column is the nearest one seen from the front.
void SilhouetteDrawer::add(std::uint32_t number, const Mask& solid) {
  std::vector<std::uint32_t> front(x_.pixels(), 0), side(y_.pixels(), 0);
  for (auto r = static_cast<std::uint32_t>(solid.rows.size()); r-- > 0;) {
    if (solid.rows[r].empty()) continue;
    const Bins rows = bins_of_row_[r];
    const bool same = r + 1 < solid.rows.size() && solid.rows[r] == solid.rows[r + 1];
    if (same && rows == bins_of_row_[r + 1]) continue;
    for (std::uint32_t y = rows.begin; y < rows.end; ++y) side[y] = std::max(side[y], solid.row(r).back().end);
    for (const Span& span : solid.row(r)) {
      const Bins columns = x_.bins(span.begin * pitch_.x_mm, span.end * pitch_.x_mm);
      if (!same) fill_free(front.data(), columns.begin, columns.end, r + 1);
      for (std::uint32_t y = rows.begin; y < rows.end; ++y) fill_free(top_.row(y), columns.begin, columns.end, number);
    }
  }
  const PrintedLayer& printed = layers_[number - 1];
  fill_rows(front_, front, printed.bottom_mm, printed.top_mm());
  fill_rows(side_, side, printed.bottom_mm, printed.top_mm());
}

void SilhouetteDrawer::fill_rows(Grid& grid, const std::vector<std::uint32_t>& line, double from_mm,
                                 double to_mm) const {
  const Bins heights = z_.bins(from_mm, to_mm);
  for (std::uint32_t z = heights.begin; z < heights.end; ++z) {
    std::uint32_t* row = grid.row(grid.height_px - 1 - z);
    for (std::size_t i = 0; i < line.size(); ++i) row[i] = std::max(row[i], line[i]);
  }
}

std::uint64_t SilhouetteDrawer::bytes() const {
  return (front_.nearest.size() + side_.nearest.size() + top_.nearest.size()) * sizeof(std::uint32_t) +
         bins_of_row_.size() * sizeof(Bins);
}

// From 1 to 255 over the depths that occur.
template <class Depth>
Raster SilhouetteDrawer::shaded(const Grid& grid, Depth depth_mm) const {
  double least = INFINITY, most = -INFINITY;
  for (const std::uint32_t at : grid.nearest) {
    if (at == 0) continue;
    least = std::min(least, depth_mm(at));
    most = std::max(most, depth_mm(at));
  }
  const double range = most - least;
  Raster out{grid.width_px, grid.height_px, pixel_mm_, pixel_mm_, {}};
  out.values.reserve(grid.nearest.size());
  for (const std::uint32_t at : grid.nearest) {
    const double nearness = at > 0 && range > 0 ? (depth_mm(at) - least) / range : 1;
    out.values.push_back(at == 0 ? std::uint8_t{0} : static_cast<std::uint8_t>(1.5 + 254 * nearness));
  }
  return out;
}

Silhouettes SilhouetteDrawer::finish() const {
  return {shaded(front_, [this](std::uint32_t row) { return row * pitch_.y_mm; }),
          shaded(side_, [this](std::uint32_t column) { return column * pitch_.x_mm; }),
          shaded(top_, [this](std::uint32_t number) { return layers_[number - 1].top_mm(); })};
}

}  // namespace hairline
