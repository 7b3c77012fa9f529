#include "parts.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace hairline::demo {
namespace {

constexpr double turn = 2 * std::numbers::pi;

bool between(double z, double from, double to) {
  return z >= from && z < to;
}

PointMm around(PointMm centre, double radius, double angle) {
  return {centre.x + radius * std::cos(angle), centre.y + radius * std::sin(angle)};
}

void ring(Canvas& canvas, PointMm centre, double outer_radius, double inner_radius) {
  canvas.fill({disc_outline(centre, 2 * outer_radius), disc_outline(centre, 2 * inner_radius)});
}

/// Pointed at both ends, widest in the middle.
OutlineMm lens_outline(PointMm middle, double length, double beam) {
  constexpr int steps = 48;
  OutlineMm outline;
  for (int i = 0; i < 2 * steps; ++i) {
    const double along = i < steps ? -1 + 2.0 * i / steps : 1 - 2.0 * (i - steps) / steps;
    const double side = i < steps ? -1 : 1;
    outline.push_back({middle.x + along * length / 2, middle.y + side * (1 - along * along) * beam / 2});
  }
  return outline;
}

}  // namespace

void base_plate(Canvas& canvas, double z, PointMm from, PointMm to, double top) {
  if (z < top) canvas.fill_box(from, to);
}

double picket_left(unsigned width_px, unsigned index) {
  return (width_px - 1) * 4.8 + 0.9 + 0.65 * index;
}

void railing(Canvas& canvas, double z, const Railing& r) {
  const double middle = r.corner.y + railing_depth / 2;
  if (between(z, r.deck_from, r.deck_to)) {
    canvas.fill_box(r.corner, {r.corner.x + railing_length, r.corner.y + railing_depth});
  } else if (between(z, r.deck_to, r.rail_from)) {
    std::vector<OutlineMm> bars;
    for (unsigned width_px = 1; width_px <= 4; ++width_px) {
      const double group = r.corner.x + (width_px - 1) * 4.8;
      bars.push_back(box_outline({group, middle - 0.4}, {group + 0.5, middle + 0.4}));
      for (unsigned i = 0; i < 6; ++i) {
        const double left = r.corner.x + picket_left(width_px, i), half_deep = width_px == 1 ? px : 2 * px;
        bars.push_back(box_outline({left, middle - half_deep}, {left + width_px * px, middle + half_deep}));
      }
    }
    const double end = r.corner.x + railing_length;
    bars.push_back(box_outline({end - 0.5, middle - 0.4}, {end, middle + 0.4}));
    canvas.fill(bars);
  } else if (between(z, r.rail_from, r.rail_to)) {
    canvas.fill_box({r.corner.x, middle - 0.4}, {r.corner.x + railing_length, middle + 0.4});
  }
}

void lantern(Canvas& canvas, double z, const Lantern& l) {
  const double sill = l.foot + 1.0, head = sill + 3.0, eaves = head + 0.5, point = eaves + l.radius + 0.4;
  if (between(z, l.foot, sill) || between(z, head, eaves)) {
    ring(canvas, l.centre, l.radius, l.radius - 0.5);
  } else if (between(z, sill, head)) {
    std::vector<OutlineMm> bars;
    for (int i = 0; i < 12; ++i) {
      const double angle = turn * i / 12;
      const double width = (i % 4 + 1) * px, deep = std::min(0.4, 2 * width);
      bars.push_back(bar_outline(around(l.centre, l.radius - 0.05 - deep, angle),
                                 around(l.centre, l.radius - 0.05, angle), width));
    }
    canvas.fill(bars);
  } else if (between(z, eaves, point)) {
    const double outer = l.radius + 0.4 - (z - eaves);
    if (outer > 0.6) {
      ring(canvas, l.centre, outer, outer - 0.6 - px);
    } else {
      canvas.fill_disc(l.centre, 2 * outer);
    }
  }
}

void name_plate(Canvas& canvas, double z, const NamePlate& n) {
  const double middle = n.corner.x + n.width / 2;
  const auto line = [&](std::string_view text, double baseline, double stroke) {
    const double left = middle - text_width_mm(text, n.letter_height, stroke) / 2;
    return text_outlines(text, {left, n.corner.y + baseline}, n.letter_height, stroke);
  };
  if (between(z, n.foot, n.face)) canvas.fill_box(n.corner, {n.corner.x + n.width, n.corner.y + n.depth});
  if (between(z, n.face, n.face + n.relief))
    canvas.fill(line(n.raised, 0.45 * n.depth, n.raised_stroke), Overlap::join);
  if (between(z, n.face - n.relief, n.face)) canvas.cut(line(n.sunk, 0.9 * n.depth, n.sunk_stroke), Overlap::join);
}

double porthole_middle(unsigned width_px) {
  // Even holes lie about a pixel corner, odd ones about a pixel's middle, so each is as wide as its number says.
  return 1.5 + 1.8 * (width_px - 2) + (width_px % 2 == 0 ? 0.0 : px / 2);
}

void porthole_wall(Canvas& canvas, double z, const PortholeWall& w) {
  if (!between(z, w.foot, w.top)) return;
  canvas.fill_box(w.corner, {w.corner.x + w.length, w.corner.y + w.thickness});
  for (unsigned width_px = 2; width_px <= 10; ++width_px) {
    const double axis = w.axis + (width_px % 2 == 0 ? 0.0 : px / 2), radius = width_px * px / 2;
    const double square = radius * radius - (z - axis) * (z - axis);
    if (square <= 0) continue;
    const double half = std::sqrt(square), middle = w.corner.x + porthole_middle(width_px);
    canvas.cut_box({middle - half, w.corner.y - 1}, {middle + half, w.corner.y + w.thickness + 1});
  }
}

void hull(Canvas& canvas, double z, const Hull& h) {
  if (!between(z, h.keel, h.deck)) return;
  const double share = (z - h.keel) / (h.deck - h.keel);
  const double full = std::sqrt(0.1 + 0.9 * share);
  canvas.fill({lens_outline(h.middle, h.length * (0.8 + 0.2 * share), h.beam * full)});
}

void rigging(Canvas& canvas, double z, const Rigging& r) {
  const PointMm mast = r.hull.middle;
  const double deck = r.hull.deck;
  std::vector<OutlineMm> parts;
  if (between(z, deck, r.mast_top)) {
    parts.push_back(disc_outline(mast, 0.7 - 0.3 * (z - deck) / (r.mast_top - deck)));
    const double share = (z - deck) / (r.mast_top - 0.3 - deck);
    // Shrouds of 1.8 to 5 pixels run from the ship's sides up to the mast.
    for (int i = 0; share < 1 && i < 4; ++i) {
      for (const double side : {-1.0, 1.0}) {
        const PointMm foot{mast.x - 2.4 + 1.6 * i, mast.y + side * (0.36 * r.hull.beam)};
        const PointMm at{foot.x + (mast.x - foot.x) * share, foot.y + (mast.y - foot.y) * share};
        parts.push_back(disc_outline(at, (i == 0 ? 1.8 : i + 2) * px));
      }
    }
  }
  if (between(z, r.yard_from, r.yard_to))
    parts.push_back(bar_outline({mast.x - 4.5, mast.y}, {mast.x + 4.5, mast.y}, 0.5));
  if (between(z, r.block_from, r.yard_from)) {
    const PointMm at{mast.x + block_aside, mast.y};
    parts.push_back(
        box_outline({at.x - block_wide / 2, at.y - block_deep / 2}, {at.x + block_wide / 2, at.y + block_deep / 2}));
  }
  if (between(z, r.lamp_from, r.lamp_to)) {
    const PointMm at{mast.x + lamp_aside, mast.y};
    parts.push_back(
        box_outline({at.x - lamp_side / 2, at.y - lamp_side / 2}, {at.x + lamp_side / 2, at.y + lamp_side / 2}));
  }
  canvas.fill(parts, Overlap::join);
}

}  // namespace hairline::demo
