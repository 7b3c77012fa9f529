/// Pieces followed through the layers: islands, and the bodies they grow into.
///
/// Layers come from the top down (that is how light is accumulated), so where an island begins is known only when the
/// layer below it has been read, and where it joins is worked out at the end from a graph of *tubes*: a tube is a chain
/// of pieces, each with exactly one neighbour above and below. What is kept grows with what was found (tubes, and
/// layers where a tube's area or box changes), not with pixels.
#pragma once
#include <cstdint>
#include <memory>
#include <optional>
#include <vector>

#include "hairline/measure.hpp"

namespace hairline {

/// A piece of layer n > 1 with no pixel in common with layer n - 1, and the floating body it grows into.
struct Island {
  std::uint32_t layer = 0;                   ///< where it begins, 1-based
  std::uint64_t area_px = 0;                 ///< of the first piece
  BoxPx piece_box;                           ///< of the first piece
  BoxPx body_box;                            ///< of the body until it joins (columns and rows)
  std::uint32_t last_layer = 0;              ///< last layer of the body before it joins (or its top)
  double volume_mm3 = 0;                     ///< of the body until it joins
  std::optional<std::uint32_t> joins_layer;  ///< first layer where it is one with something that stands on the plate
};

/// Islands under this many pixels are specks: counted, not listed.
inline constexpr std::uint64_t least_island_px = 4;

class IslandTracker {
 public:
  explicit IslandTracker(Pitch pitch);
  ~IslandTracker();
  IslandTracker(IslandTracker&&) noexcept;
  IslandTracker& operator=(IslandTracker&&) noexcept;

  /// Adds layer `number`; numbers fall by one from call to call, down to 1. `contacts_above` pairs this layer's pieces
  /// (a) with those of the layer added before (b = pieces of layer number + 1), sorted by a.
  void add(std::uint32_t number, double height_mm, const Pieces& pieces, const std::vector<Contact>& contacts_above);

  /// Memory held, and what `finish` will take. Same layers, same number.
  std::uint64_t bytes() const;

  struct Found {
    std::vector<Island> islands;  ///< at least least_island_px, sorted by (layer, box row, box column)
    std::vector<Island> specks;   ///< smaller ones, likewise sorted
  };
  /// After layer 1. Two islands that grow together before they join share one body from there on: its volume counts for
  /// the one that began lower (then by box row, column), the other ends there with `joins_layer` empty only if neither
  /// ever joins.
  Found finish();

 private:
  struct State;
  std::unique_ptr<State> state_;
};

}  // namespace hairline
