/// The parts the workshop's models are made of. Each draws its cross-section at height z_mm; all lengths in mm.
#pragma once
#include <string_view>

#include "hairline/draw.hpp"

namespace hairline::demo {

inline constexpr double px = 0.05;  ///< pixel pitch and layer height of all demo jobs

/// A flat slab from the plate up to `top`.
void base_plate(Canvas& canvas, double z, PointMm from, PointMm to, double top);

/// Gallery deck along x with a railing on it: four groups of six flat pickets, 1, 2, 3 and 4 pixels wide and 4 deep
/// (the thinnest 2), a stout post beside each group, and a rail on top of them all.
struct Railing {
  PointMm corner;  ///< upper left corner of the deck, on a pixel corner
  double deck_from = 0.5, deck_to = 1.5, rail_from = 5.0, rail_to = 5.5;
};
inline constexpr double railing_length = 20.0, railing_depth = 2.0;
/// Left side of picket `index` (0..5) of the group of pickets `width_px` wide (1..4), from the deck's corner.
double picket_left(unsigned width_px, unsigned index);
void railing(Canvas& canvas, double z, const Railing& r);

/// Round lantern: sill ring, twelve upright glazing bars, upper ring and a pointed roof.
struct Lantern {
  PointMm centre;
  double radius = 2.5, foot = 0.5;
};
void lantern(Canvas& canvas, double z, const Lantern& l);

/// A plate with one line of raised letters and one of sunk letters.
struct NamePlate {
  PointMm corner;
  double width = 12, depth = 6, foot = 0.5, face = 2.0, relief = 0.4;
  double letter_height = 2.0, raised_stroke = 0.15, sunk_stroke = 0.15;
  std::string_view raised = "SKERRY", sunk = "POINT";
};
void name_plate(Canvas& canvas, double z, const NamePlate& n);

/// An upright wall along x with round holes through it from side to side, 2 to 10 pixels wide.
struct PortholeWall {
  PointMm corner;
  double length = 18, thickness = 1.5, foot = 0.5, top = 4.0, axis = 2.25;
};
/// Middle of the hole `width_px` wide (2..10), from the wall's corner.
double porthole_middle(unsigned width_px);
void porthole_wall(Canvas& canvas, double z, const PortholeWall& w);

/// A hull that widens from keel to deck.
struct Hull {
  PointMm middle;
  double length = 18, beam = 6, keel = 0.5, deck = 3.5;
};
void hull(Canvas& canvas, double z, const Hull& h);

/// Mast, yard and shrouds on a hull, a tackle block that hangs free below the yard until it meets it, and a lamp that
/// touches nothing at all.
struct Rigging {
  Hull hull;
  double mast_top = 9.5, yard_from = 7.5, yard_to = 8.0;
  double block_from = 6.3;  ///< the tackle block reaches from here to the yard
  double lamp_from = 5.0, lamp_to = 5.6;
};
inline constexpr double block_wide = 1.3, block_deep = 1.1, block_aside = 2.6, lamp_side = 0.6, lamp_aside = -2.2;
void rigging(Canvas& canvas, double z, const Rigging& r);

/// The whole lighthouse of the night-long job: tower, galleries, lantern, rock, cottage, name plate and boat.
void lighthouse(Canvas& canvas, double z);

}  // namespace hairline::demo
