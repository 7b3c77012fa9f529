/// Skerry Point Light, from the plate up (mm):
///
///     0 ..  2   rock: one slab that everything stands on
///     2 .. 62   tower: a hollow wall that narrows, with a door, windows, a raised rope that winds around it up to
///               the corbels, and a spiral stair inside
///    36 .. 47   lower gallery: corbels, deck, railing
///    58 .. 69   upper gallery: corbels, deck, railing
///    62 .. 78   lantern: sill, glazing bars, a head that widens to the eaves; a lamp hangs in it on a rod from the
///               roof: it begins in the air, the one thing that was forgotten
///    78 .. 90   roof: a pointed shell and a ball
#include <algorithm>
#include <cmath>
#include <numbers>

#include "parts.hpp"

namespace hairline::demo {
namespace {

constexpr double turn = 2 * std::numbers::pi;
constexpr PointMm tower_middle{36, 52};
constexpr double lighthouse_top_mm = 90;
constexpr double rock_top = 2, tower_top = 62;
constexpr double lower_deck = 40, upper_deck = 62;
constexpr double wall = 2;  // of the tower
constexpr double lantern_radius = 9, lantern_head = 76, roof_from = 78, roof_top = 88;
constexpr double eaves_radius = 10.8, roof_tip = 0.8;

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

void draw_tower_wall(Canvas& canvas, double z) {
  const double radius = tower_radius(z);
  std::vector<OutlineMm> shapes{disc_outline(tower_middle, 2 * radius)};
  const bool corbels = between(z, lower_deck - 5, lower_deck) || between(z, upper_deck - 5, upper_deck);
  for (int start = 0; !corbels && start < 3; ++start) {  // the rope
    shapes.push_back(disc_outline(around(radius, turn * (start / 3.0 + z / 24)), 1.0));
  }
  canvas.fill(shapes, Overlap::join);
  canvas.cut_disc(tower_middle, 2 * (radius - wall));
}

/// Treads 1 mm apart in height and 1.6 mm thick, 24 to a turn, from the column into the wall. Each is a wedge wide
/// enough to rest on the one before, so that a layer shows one blunt wedge of one or two treads, and no notch between.
void draw_stair(Canvas& canvas, double z) {
  constexpr double half_tread = 0.5 * turn / 15;
  std::vector<OutlineMm> shapes{disc_outline(tower_middle, 3)};
  const double reach = tower_radius(z) - 1.0;
  for (int step = 0; step < 60; ++step) {
    const double foot = rock_top + step, angle = turn * step / 24;
    if (!between(z, foot, foot + 1.6)) continue;
    shapes.push_back({tower_middle, around(reach, angle - half_tread), around(reach, angle + half_tread)});
  }
  canvas.fill(shapes, Overlap::join);
}

/// A bar through the tower wall at an angle, to cut openings.
OutlineMm opening(double z, double angle, double wide) {
  return bar_outline(around(tower_radius(z) - wall - 0.5, angle), around(30, angle), wide);
}

void cut_openings(Canvas& canvas, double z) {
  if (z < 14) {  // door, with a pointed head
    const double wide = std::min(7.0, 2 * (14 - z));
    canvas.cut({opening(z, turn / 4, wide)});
  }
  for (int i = 0; i < 5; ++i) {  // windows climb with the stair; their heads are pointed as well
    const double sill = 16 + 8.5 * i, head = sill + 5, angle = turn / 4 + turn * (sill - 2) / 24;
    if (between(z, sill, head)) canvas.cut({opening(z, angle, std::min(2.4, 2 * (head - z)))});
  }
}

void draw_tower(Canvas& canvas, double z) {
  if (!between(z, rock_top, tower_top)) return;
  draw_tower_wall(canvas, z);
  draw_stair(canvas, z);
  cut_openings(canvas, z);
}

/// The wall thickens inwards below the upper deck and carries the lantern.
void draw_lantern_floor(Canvas& canvas, double z) {
  constexpr double from = tower_top - 5;
  if (between(z, from, tower_top)) fill_ring(canvas, tower_radius(z) - 1, tower_radius(z) - 2 - (z - from));
}

/// Corbels under a deck (between the windows below it), the deck, pickets 2, 3 and 4 pixels wide, posts and a rail.
void draw_gallery(Canvas& canvas, double z, double deck, double deck_radius, double inner_radius) {
  const double corbel_foot = deck - 1.1 * (deck_radius - inner_radius);
  const double rail = deck + 6.0;
  std::vector<OutlineMm> shapes;
  if (between(z, corbel_foot, deck - 1)) {
    const double reach = inner_radius + (z - corbel_foot) / 1.1;
    for (int i = 0; i < 24; ++i) {
      const double angle = turn * (i + 0.5) / 24;
      shapes.push_back(bar_outline(around(inner_radius - 1, angle), around(reach, angle), 1.2));
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
  if (between(z, upper_deck, upper_deck + 2)) {
    fill_ring(canvas, lantern_radius, lantern_radius - 1.2);
  } else if (between(z, lantern_head, roof_from)) {
    const double share = (z - lantern_head) / (roof_from - lantern_head);
    fill_ring(canvas, lantern_radius + share * (eaves_radius - lantern_radius), lantern_radius - 1.2);
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
  // The lamp and its rod hang from the roof.
  if (between(z, 68, 71)) canvas.fill_disc(tower_middle, 3 + (z - 68));
  if (between(z, 71, roof_top)) canvas.fill_disc(tower_middle, 1.2);
}

void draw_roof(Canvas& canvas, double z) {
  if (between(z, roof_from, roof_top)) {
    const double outer = roof_tip + (eaves_radius - roof_tip) * (roof_top - z) / (roof_top - roof_from);
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
