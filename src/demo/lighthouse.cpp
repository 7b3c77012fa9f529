/// Skerry Point Light, from the plate up (mm):
///
///     0 ..  2   rock: one slab that everything stands on
///     2 .. 62   tower: a hollow wall that narrows, with a door, windows, a raised rope that winds around it, and a
///     spiral
///               stair inside
///    36 .. 43   lower gallery: corbels, deck, railing
///    56 .. 69   upper gallery: corbels, deck, railing
///    62 .. 78   lantern: sill, glazing bars, head; a lamp hangs in it and meets its rod's roof only at the top
///    78 .. 90   roof: a pointed shell and a ball
#include "lighthouse.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "parts.hpp"

namespace hairline::demo {
namespace {

constexpr double turn = 2 * std::numbers::pi;
constexpr double rock_top = 2, tower_top = 62;
constexpr double lower_deck = 40, upper_deck = 62;
constexpr double lantern_radius = 9, lantern_head = 76, roof_from = 78, roof_top = 88;

bool between(double z, double from, double to) {
  return z >= from && z < to;
}

PointMm around(double radius, double angle) {
  return {tower_middle.x + radius * std::cos(angle), tower_middle.y + radius * std::sin(angle)};
}

double tower_radius(double z) {
  const double share = (z - rock_top) / (tower_top - rock_top);
  return 22 - 12 * share + 3 * share * share;
}

void fill_ring(Canvas& canvas, double outer, double inner) {
  canvas.fill({disc_outline(tower_middle, 2 * outer), disc_outline(tower_middle, 2 * inner)});
}

void draw_rock(Canvas& canvas, double z) {
  if (z >= rock_top) return;
  canvas.fill({{{6, 10}, {66, 10}, {70, 20}, {70, 108}, {62, 116}, {10, 116}, {2, 106}, {2, 18}}});
}

/// A bar that reaches through the tower wall at an angle, to cut openings.
OutlineMm opening(double angle, double wide) {
  return bar_outline(around(4, angle), around(30, angle), wide);
}

void draw_tower(Canvas& canvas, double z) {
  if (!between(z, rock_top, tower_top)) return;
  const double radius = tower_radius(z), wall = 2.0;
  std::vector<OutlineMm> shapes{disc_outline(tower_middle, 2 * radius)};
  for (int start = 0; start < 3; ++start) {  // the rope
    shapes.push_back(disc_outline(around(radius, turn * (start / 3.0 + z / 24)), 1.0));
  }
  canvas.fill(shapes, Overlap::join);
  canvas.cut_disc(tower_middle, 2 * (radius - wall));
  if (z < 14) {  // door, with a pointed head
    const double wide = std::min(7.0, 2 * (14 - z));
    canvas.cut({opening(turn / 4, wide)});
  }
  for (int i = 0; i < 5; ++i) {  // windows climb with the stair; their heads are pointed as well
    const double sill = 16 + 8.5 * i, head = sill + 5;
    if (between(z, sill, head)) canvas.cut({opening(turn / 4 + turn * (sill - 2) / 24, std::min(2.4, 2 * (head - z)))});
  }
}

/// The wall thickens inwards below the upper deck and carries the lantern.
void draw_lantern_floor(Canvas& canvas, double z) {
  constexpr double from = tower_top - 5;
  if (between(z, from, tower_top)) fill_ring(canvas, tower_radius(z) - 1, tower_radius(z) - 2 - (z - from));
}

void draw_stair(Canvas& canvas, double z) {
  if (!between(z, rock_top, tower_top)) return;
  std::vector<OutlineMm> shapes{disc_outline(tower_middle, 3)};
  // Treads 1 mm apart in height, 24 to a turn; each grows out of the column and reaches into the wall.
  for (int step = 0; step < 60; ++step) {
    const double foot = rock_top + step;
    if (!between(z, foot, foot + 1.6)) continue;
    const double reach = tower_radius(z) - 1.0;
    shapes.push_back(taper_outline(around(1, turn * step / 24), 1.0, around(reach, turn * step / 24), 3.4));
  }
  canvas.fill(shapes, Overlap::join);
}

/// Corbels under a deck, the deck, pickets 2, 3 and 4 pixels wide, posts and a rail.
void draw_gallery(Canvas& canvas, double z, double deck, double deck_radius, double inner_radius) {
  const double corbel_foot = deck - 1.1 * (deck_radius - inner_radius);
  const double rail = deck + 6.0;
  std::vector<OutlineMm> shapes;
  if (between(z, corbel_foot, deck - 1)) {
    const double reach = inner_radius + (z - corbel_foot) / 1.1;
    for (int i = 0; i < 24; ++i) {
      shapes.push_back(bar_outline(around(inner_radius - 1, turn * i / 24), around(reach, turn * i / 24), 1.2));
    }
    canvas.fill(shapes, Overlap::join);
  } else if (between(z, deck - 1, deck)) {
    fill_ring(canvas, deck_radius, inner_radius - 1);
  } else if (between(z, deck, rail)) {
    const double at = deck_radius - 0.5;
    constexpr int pickets = 120;
    for (int i = 0; i < pickets; ++i) {
      const bool post = i % 10 == 0;
      const double width = post ? 0.8 : (2 + i % 3) * px, deep = post ? 0.8 : 0.3;
      const double angle = turn * i / pickets;
      shapes.push_back(bar_outline(around(at - deep / 2, angle), around(at + deep / 2, angle), width));
    }
    canvas.fill(shapes);
  } else if (between(z, rail, rail + 0.6)) {
    fill_ring(canvas, deck_radius - 0.1, deck_radius - 0.9);
  }
}

void draw_lantern(Canvas& canvas, double z) {
  if (between(z, upper_deck, upper_deck + 2) || between(z, lantern_head, roof_from)) {
    fill_ring(canvas, lantern_radius, lantern_radius - 1.2);
  } else if (between(z, upper_deck + 2, lantern_head)) {
    std::vector<OutlineMm> bars;
    // Upright bars, and slanted ones that wind both ways between them.
    const double share = (z - upper_deck - 2) / (lantern_head - upper_deck - 2);
    for (int i = 0; i < 16; ++i) {
      const double angle = turn * i / 16;
      bars.push_back(
          bar_outline(around(lantern_radius - 1, angle), around(lantern_radius - 0.2, angle), (3 + i % 4) * px));
      for (const double way : {-1.0, 1.0}) {
        bars.push_back(disc_outline(around(lantern_radius - 0.6, angle + way * share * turn / 8), 0.25));
      }
    }
    canvas.fill(bars, Overlap::join);
  }
  // The lamp hangs from the roof: it begins in the air.
  if (between(z, 68, 71)) canvas.fill_disc(tower_middle, 3 + (z - 68));
  if (between(z, 71, roof_top)) canvas.fill_disc(tower_middle, 1.2);
}

void draw_roof(Canvas& canvas, double z) {
  if (between(z, roof_from, roof_top)) {
    const double outer = 10 * (roof_top - z) / (roof_top - roof_from) + 0.8;
    if (outer > 1.6) {
      fill_ring(canvas, outer, outer - 1.5);
    } else {
      canvas.fill_disc(tower_middle, 2 * outer);
    }
  } else if (between(z, roof_top, lighthouse_top_mm)) {
    const double up = z - 88.8, square = 1.2 * 1.2 - up * up;
    if (square > 0) canvas.fill_disc(tower_middle, 2 * std::sqrt(square));
  }
}

/// A small house beside the tower, with a pitched roof.
void draw_cottage(Canvas& canvas, double z) {
  const PointMm from{8, 80}, to{28, 92};
  if (between(z, rock_top, 10)) {
    canvas.fill_box(from, to);
    if (z < 9) {
      canvas.cut_box({from.x + 1.5, from.y + 1.5}, {to.x - 1.5, to.y - 1.5});
      if (z < 7) canvas.cut_box({16, 90}, {19, 93});
    }
  } else if (between(z, 10, 16)) {
    const double in = z - 10;
    canvas.fill_box({from.x, from.y + in}, {to.x, to.y - in});
  }
  if (between(z, 10, 17)) canvas.fill_box({10, 84}, {12.5, 86.5});
}

}  // namespace

void lighthouse(Canvas& canvas, double z) {
  draw_rock(canvas, z);
  draw_tower(canvas, z);
  draw_lantern_floor(canvas, z);
  draw_stair(canvas, z);
  draw_gallery(canvas, z, lower_deck, tower_radius(lower_deck) + 4, tower_radius(lower_deck));
  draw_gallery(canvas, z, upper_deck, 17, lantern_radius + 4);
  draw_lantern(canvas, z);
  draw_roof(canvas, z);
  draw_cottage(canvas, z);
  NamePlate plate;
  plate.corner = {12, 98};
  plate.width = 50, plate.depth = 14, plate.foot = rock_top, plate.face = 4, plate.relief = 0.6;
  plate.letter_height = 4.5, plate.raised_stroke = 0.4, plate.sunk_stroke = 0.15;
  plate.raised = "SKERRY POINT", plate.sunk = "LIGHT 1874";
  name_plate(canvas, z, plate);
  const Hull boat{{52, 86}, 18, 6, rock_top, 6};
  hull(canvas, z, boat);
}

}  // namespace hairline::demo
