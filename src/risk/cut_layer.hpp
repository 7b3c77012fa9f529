/// A layer's solid cut into what stays at every time (its *core*) and the stretches that do not, and how they lie to
/// each other and to those of the layer above. The same for every time.
///
/// Elements of a layer: its core pieces, then its stretches that vanish.
#pragma once
#include <vector>

#include "bodies.hpp"
#include "stretches.hpp"

namespace hairline::risk {

/// A stretch and a core piece that touch.
struct Link {
  std::uint32_t stretch = 0, piece = 0;
};

struct CutLayer {
  LayerFacts facts;
  LayerStretches cut;
  std::shared_ptr<const Drawn> core;  ///< its solid and the pieces of that
  std::vector<Link> beside;           ///< corners included
  std::vector<Link> above;            ///< piece: of the layer above
  std::vector<Link> below_above;      ///< stretch: of the layer above
  std::vector<Contact> contacts;      ///< core pieces, a here and b above
  std::vector<std::uint32_t> drawn;   ///< of each element: the body it belongs to as drawn
  /// Stretches are elements from this number on.
  std::uint32_t piece_count() const { return static_cast<std::uint32_t>(core->pieces.pieces.size()); }
  std::uint32_t element_count() const { return piece_count() + static_cast<std::uint32_t>(cut.stretches.size()); }
};

/// `drawn`: the whole layer, with the body of each of its pieces; `above`: the layer before, or none at the top;
/// `contacts_above`: of the whole layers.
CutLayer cut_layer(const LayerFacts& facts, std::shared_ptr<const Drawn> drawn,
                   const std::vector<std::uint32_t>& drawn_node, LayerStretches cut,
                   std::vector<Contact> contacts_above, const CutLayer* above);

}  // namespace hairline::risk
