/// Plates for benchmarks, drawn from code at any size: a busy one (raft, 900 supports, 12 lattice bodies) and a sparse
/// one (a single figure).
#pragma once
#include <cstdint>

#include "hairline/draw.hpp"

namespace hairline {

enum class PlateKind : std::uint8_t { busy, sparse };

struct PlateSettings {
  PlateKind kind = PlateKind::busy;
  Size size{7680, 4320};
  Pitch pitch{0.03, 0.03};
  Edges edges = Edges::grey;
  std::uint32_t layers = 200;  ///< in all; shapes change evenly over them
  /// Lattice body's part of its field's width and height: how busy a busy plate is. As it is, 18 % of the tiles of
  /// 64 x 32 pixels lie near an edge at 7680 x 4320.
  double body_share = 0.2;
  double height_mm = 0.05;  ///< layer height; with the pitch it sets how far slanted struts move from layer to layer
};

inline constexpr std::uint32_t plate_supports = 900, plate_bodies = 12, plate_raft_layers = 6;

/// Layer `number` of the plate, 1-based, 1 <= number <= settings.layers. Layers may be drawn in any order and from any
/// number of threads; equal settings give equal layers on any machine.
Layer draw_plate_layer(const PlateSettings& settings, std::uint32_t number);

}  // namespace hairline
