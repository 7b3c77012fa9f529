/// The busy plate: twelve bodies in four columns and three rows of equal fields. A body is a box of struts in a cubic
/// lattice whose cells each have four struts leaning towards the cell's middle and out again, within a thin shell;
/// around it stand 75 supports on two rings that lean towards it. The raft is one slab with its corners cut.
#include "hairline/plates.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "bodies.hpp"

namespace hairline {
namespace {

constexpr std::uint32_t field_columns = 4, field_rows = 3;
constexpr std::uint32_t supports_per_body = plate_supports / plate_bodies;

struct Field {
  PointMm middle;
  double width_mm, height_mm;
};

struct PlateMm {
  double width_mm, height_mm, pixel_mm;
};

PlateMm plate_of(const PlateSettings& s) {
  return {s.size.width_px * s.pitch.x_mm, s.size.height_px * s.pitch.y_mm, std::max(s.pitch.x_mm, s.pitch.y_mm)};
}

Field field_of(const PlateMm& plate, std::uint32_t body) {
  const double w = plate.width_mm / field_columns, h = plate.height_mm / field_rows;
  return {{(body % field_columns + 0.5) * w, (body / field_columns + 0.5) * h}, w, h};
}

/// Goes from 0 to 1 and back once per period.
double triangle_wave(double x) {
  return 1 - std::abs(2 * (x - std::floor(x)) - 1);
}

void add_lattice(std::vector<OutlineMm>& out, const Field& field, const PlateMm& plate, const PlateSettings& s,
                 double z_mm) {
  const double w = s.body_share * field.width_mm, h = s.body_share * field.height_mm;
  const double cell_wish = std::max(0.04 * plate.width_mm / field_columns, 16 * plate.pixel_mm);
  const auto columns = static_cast<unsigned>(std::max(1.0, std::floor(w / cell_wish)));
  const auto rows = static_cast<unsigned>(std::max(1.0, std::floor(h / cell_wish)));
  const double cell_x = w / columns, cell_y = h / rows, strut = 0.34 * std::min(cell_x, cell_y);
  const double lean = 0.5 * triangle_wave(z_mm / (2 * std::min(cell_x, cell_y)));
  const OutlineMm disc = polygon_outline({0, 0}, strut, 32);
  const PointMm corner{field.middle.x - w / 2, field.middle.y - h / 2};
  for (unsigned r = 0; r < rows; ++r) {
    for (unsigned c = 0; c < columns; ++c) {
      for (const double u : {lean, 1 - lean}) {
        for (const double v : {lean, 1 - lean}) {
          out.push_back(moved(disc, {corner.x + (c + u) * cell_x, corner.y + (r + v) * cell_y}));
        }
      }
    }
  }
  const double wall = std::max(0.25 * strut, 2 * plate.pixel_mm);
  const PointMm a = corner, b{corner.x + w, corner.y}, d{corner.x, corner.y + h}, e{corner.x + w, corner.y + h};
  out.push_back(box_outline({a.x, a.y}, {b.x, b.y + wall}));
  out.push_back(box_outline({d.x, d.y - wall}, {e.x, e.y}));
  out.push_back(box_outline({a.x, a.y}, {d.x + wall, d.y}));
  out.push_back(box_outline({b.x - wall, b.y}, {e.x, e.y}));
}

void add_supports(std::vector<OutlineMm>& out, const Field& field, const PlateMm& plate, double height_share) {
  const double diameter = std::max(0.010 * field.width_mm, 3 * plate.pixel_mm) * (1 - 0.5 * height_share);
  for (std::uint32_t i = 0; i < supports_per_body; ++i) {
    const double angle = 2 * std::numbers::pi * i / supports_per_body;
    const double ring = (i % 2 == 0 ? 0.46 : 0.38) - 0.12 * height_share;
    // On a rounded box: the circle is pushed out to the box it fits in.
    const double c = std::cos(angle), s = std::sin(angle), push = 1 / std::max(std::abs(c), std::abs(s));
    const PointMm at{field.middle.x + ring * field.width_mm * c * push,
                     field.middle.y + ring * field.height_mm * s * push};
    out.push_back(disc_outline(at, diameter));
  }
}

void draw_raft(Canvas& canvas, const PlateMm& plate, std::uint32_t number) {
  const double edge = 0.004 * plate.width_mm * number, x1 = plate.width_mm - edge, y1 = plate.height_mm - edge;
  const double cut = 0.02 * plate.width_mm;
  canvas.fill({{{edge + cut, edge},
                {x1 - cut, edge},
                {x1, edge + cut},
                {x1, y1 - cut},
                {x1 - cut, y1},
                {edge + cut, y1},
                {edge, y1 - cut},
                {edge, edge + cut}}});
}

/// Raft, then supports; with the lattice bodies of the busy plate where that is what is drawn.
void draw_around(Canvas& canvas, const PlateSettings& s, std::uint32_t number) {
  const PlateMm plate = plate_of(s);
  if (number <= plate_raft_layers) return draw_raft(canvas, plate, number);
  const double share = static_cast<double>(number) / std::max(1u, s.layers);
  std::vector<OutlineMm> outlines;
  for (std::uint32_t body = 0; body < plate_bodies; ++body) {
    const Field field = field_of(plate, body);
    if (s.kind == PlateKind::busy) add_lattice(outlines, field, plate, s, number * s.height_mm);
    add_supports(outlines, field, plate, share);
  }
  canvas.fill(outlines, Overlap::join);
}

/// A figure on a foot: legs, a coat that widens and narrows, arms and a head, all of ellipses.
void draw_sparse(Canvas& canvas, const PlateSettings& s, std::uint32_t number) {
  const PlateMm plate = plate_of(s);
  const double unit = 0.25 * std::min(plate.width_mm, plate.height_mm);
  const PointMm middle{plate.width_mm / 2, plate.height_mm / 2};
  const double share = (number - 0.5) / std::max(1u, s.layers);
  const auto ellipse = [&](PointMm at, double wide, double deep) {
    OutlineMm outline = disc_outline({0, 0}, unit);
    for (PointMm& p : outline) p = {middle.x + at.x * unit + p.x * wide, middle.y + at.y * unit + p.y * deep};
    return outline;
  };
  const double sway = 0.1 * std::sin(4 * share);
  std::vector<OutlineMm> outlines;
  if (share < 0.05) {
    outlines = {ellipse({0, 0}, 1.0, 0.7)};
  } else if (share < 0.4) {
    outlines = {ellipse({-0.22 + sway, 0}, 0.26, 0.3), ellipse({0.22 + sway, 0}, 0.26, 0.3)};
  } else if (share < 0.8) {
    const double waist = 0.5 + 0.2 * std::cos(15 * (share - 0.4));
    outlines = {ellipse({sway, 0}, waist + 0.25, 0.42), ellipse({sway - 0.55, 0.1}, 0.2, 0.2),
                ellipse({sway + 0.55, -0.1}, 0.2, 0.2)};
  } else {
    const double t = (share - 0.9) / 0.1, round = std::sqrt(std::max(0.02, 1 - t * t));
    outlines = {ellipse({sway, 0}, 0.4 * round, 0.45 * round)};
  }
  canvas.fill(outlines, Overlap::join);
}

/// The part of a plate's pixels that is a body's; at least one pixel, and inside the plate.
BoxPx box_of(const PlateSettings& s, std::uint32_t body) {
  const auto part = [&](std::uint32_t plate_px, std::uint32_t fields, std::uint32_t field) {
    const double field_px = static_cast<double>(plate_px) / fields;
    const auto length = std::clamp(static_cast<std::uint32_t>(s.body_share * field_px), 1u, plate_px);
    const auto from = static_cast<std::uint32_t>(std::max(0.0, (field + 0.5) * field_px - 0.5 * length));
    return Span{from, from + length};
  };
  const Span x = part(s.size.width_px, field_columns, body % field_columns);
  const Span y = part(s.size.height_px, field_rows, body / field_columns);
  return {x.begin, y.begin, x.end, y.end};
}

/// `around`, with the pixels of the bodies put over it.
Layer with_bodies(const Layer& around, const PlateSettings& s, std::uint32_t number) {
  std::vector<std::vector<std::uint8_t>> pictures;
  for (std::uint32_t body = 0; body < plate_bodies; ++body) {
    const BoxPx box = box_of(s, body);
    pictures.push_back(draw::draw_body(s, body, number, {box.x1 - box.x0, box.y1 - box.y0}));
  }
  LayerBuilder builder(s.size);
  std::vector<std::uint8_t> row;
  for (std::uint32_t y = 0; y < s.size.height_px; ++y) {
    row.assign(s.size.width_px, 0);
    for (const Run& run : around.row(y)) std::fill(row.begin() + run.begin, row.begin() + run.end, run.value);
    for (std::uint32_t body = 0; body < plate_bodies; ++body) {
      const BoxPx box = box_of(s, body);
      if (y < box.y0 || y >= box.y1) continue;
      const auto from = pictures[body].begin() + std::ptrdiff_t{y - box.y0} * (box.x1 - box.x0);
      std::copy(from, from + (box.x1 - box.x0), row.begin() + box.x0);
    }
    builder.add_row(row);
  }
  return builder.take();
}

/// Every pixel by itself (SplitMix64: Steele, Lea and Flood, Fast splittable pseudorandom number generators, 2014).
Layer draw_noise(const PlateSettings& s, std::uint32_t number) {
  const auto solid_below = static_cast<std::uint64_t>(s.body_share * 0x1p32);
  std::uint64_t state = number * 0xd1342543de82ef95u;
  LayerBuilder builder(s.size);
  std::vector<std::uint8_t> row(s.size.width_px);
  for (std::uint32_t y = 0; y < s.size.height_px; ++y) {
    for (std::uint8_t& value : row) {
      std::uint64_t z = state += 0x9e3779b97f4a7c15u;
      z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
      z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
      value = ((z ^ (z >> 31)) >> 32) < solid_below ? 255 : 0;
    }
    builder.add_row(row);
  }
  return builder.take();
}

}  // namespace

Layer draw_plate_layer(const PlateSettings& settings, std::uint32_t number) {
  if (settings.kind == PlateKind::noise) return draw_noise(settings, number);
  Canvas canvas(settings.size, settings.pitch, settings.edges);
  if (settings.kind == PlateKind::sparse) {
    draw_sparse(canvas, settings, number);
    return canvas.take();
  }
  draw_around(canvas, settings, number);
  if (settings.kind == PlateKind::busy || number <= plate_raft_layers) return canvas.take();
  return with_bodies(canvas.take(), settings, number);
}

}  // namespace hairline
