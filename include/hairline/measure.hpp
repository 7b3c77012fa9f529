/// Measures of one layer: connected pieces, overlaps with another layer, thin walls and gaps.
#pragma once
#include <cstdint>
#include <optional>
#include <vector>

#include "hairline/layer.hpp"

namespace hairline {

/// One 8-connected piece of a mask.
struct Piece {
  std::uint64_t area_px = 0;
  BoxPx box;
};

/// All pieces of a mask, numbered from 0 by their first pixel in row order (so the numbering is the same everywhere).
struct Pieces {
  std::vector<Piece> pieces;
  /// Piece of each entry of Mask::spans. Rows that share spans always belong to the same pieces (equal neighbouring
  /// rows touch), so one label per stored span is enough.
  std::vector<std::uint32_t> of_span;
};

/// 8-connected pieces, from spans alone (union-find over touching spans; O(spans)).
Pieces find_pieces(const Mask& mask);

/// A pixel of a piece near the middle of its box: there if it is solid, else in the middle of the run of its row
/// nearest to it.
PixelPx middle_pixel(const Mask& mask, const Pieces& pieces, std::uint32_t piece);

/// Pixels that piece `a` of one layer shares with piece `b` of another.
struct Contact {
  std::uint32_t a = 0, b = 0;
  std::uint64_t overlap_px = 0;
  bool operator==(const Contact&) const = default;
};

/// Every pair of pieces that share a pixel, sorted by (a, b), each pair once. Both masks have one size.
std::vector<Contact> find_contacts(const Mask& a, const Pieces& pieces_a, const Mask& b, const Pieces& pieces_b);

/// A place on the medial axis: `width_mm` is the distance to the nearest point of the boundary on one side plus that on
/// the other.
struct ThinPlace {
  std::uint32_t row = 0, col = 0;
  float width_mm = 0;
};

/// Thin places of one layer, both lists sorted by (row, col); pixels where nothing thinner than the limit is are
/// absent.
struct ThinPlaces {
  std::vector<ThinPlace> walls;  ///< on solid pixels
  std::vector<ThinPlace>
      gaps;  ///< on empty pixels between solids (a gap open to one side counts, the outside does not)
  /// How long the walls (gaps) of each width are, mm, along their middle: entry i sums those nearest to (i + 1) times
  /// `width_step_mm`, up to the limit; the first one also what is thinner.
  std::vector<double> wall_lengths_mm, gap_lengths_mm;
};

struct ThicknessSettings {
  double limit_mm = 0.6;         ///< nothing wider is looked for
  double least_angle_deg = 120;  ///< object angle between the two nearest boundary points, seen from the medial pixel
  double width_step_mm = 0.05;   ///< of the lengths by width
};

/// Walls and gaps thinner than the limit. A place counts where the nearest boundary points on its two sides are seen at
/// an object angle of at least `least_angle_deg`, so corners do not count. `solid` is that of the layer, whose grey
/// edges say where within their pixels the boundary lies; without grey, the rows around do. Only short runs of the
/// rows and columns are looked at, never every pixel. Accuracy: unbiased to a hundredth of a pixel with grey edges, to
/// a third of a pixel without; upright and level walls exact. Method, ends and limits: docs/measures.md. Safe to call
/// from many threads; the result does not depend on the thread.
ThinPlaces find_thin_places(const Layer& layer, const Mask& solid, Pitch pitch, const ThicknessSettings& settings = {});
/// The same of a mask, all of whose edges are hard.
ThinPlaces find_thin_places(const Mask& solid, Pitch pitch, const ThicknessSettings& settings = {});

/// The narrowest of a list; empty list: none.
std::optional<ThinPlace> thinnest(const std::vector<ThinPlace>& places);

}  // namespace hairline
