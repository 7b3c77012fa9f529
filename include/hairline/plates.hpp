/// Plates for benchmarks, drawn from code at any size: a busy one (raft, 900 supports, 12 lattice bodies), a sparse one
/// (a single figure), noise, and hard ones: raft and supports of the busy plate, bodies at risk all over.
#pragma once
#include <cstdint>

#include "hairline/draw.hpp"

namespace hairline {

/// The bodies of the last four, the hard plates, change with every layer, so that flat gaps are everywhere: `turning`,
/// ribs of 3 to 12 pixels, 56 apart both ways, that turn about the body's middle; `gyroid`, a gyroid of cells of 96
/// pixels; `dithered`, shades as dots that wander; `letters`, blocks with slanted letters sunk into them, 3240 in all
/// at 7680 x 4320.
enum class PlateKind : std::uint8_t { busy, sparse, noise, turning, gyroid, dithered, letters };

struct PlateSettings {
  PlateKind kind = PlateKind::busy;
  Size size{7680, 4320};
  Pitch pitch{0.03, 0.03};
  Edges edges = Edges::grey;
  std::uint32_t layers = 200;  ///< in all; shapes change evenly over them
  /// A body's part of its field's width and height, 0 to 1: how busy a busy plate is. As it is, 18 % of the tiles of
  /// 64 x 32 pixels lie near an edge at 7680 x 4320. Of noise: the share of its pixels that are solid.
  double body_share = 0.2;
  /// How far a hard plate's bodies change per layer, pixels, >= 0. Ribs move so far at the middle of a body's left and
  /// right side.
  double turn_px = 3;
  double height_mm = 0.05;  ///< layer height; with the pitch it sets how far slanted struts move from layer to layer
};

inline constexpr std::uint32_t plate_supports = 900, plate_bodies = 12, plate_raft_layers = 6;

/// Layer `number` of the plate, 1-based, 1 <= number <= settings.layers. Layers may be drawn in any order and from any
/// number of threads; equal settings give equal layers on any machine.
Layer draw_plate_layer(const PlateSettings& settings, std::uint32_t number);

}  // namespace hairline
