/// Stretches of one lot joined into parts at one time: 8-connected in a layer, and over neighbouring layers where they
/// share a pixel. Every part that is worth it becomes a detail.
///
/// Layers come from the top down. Only parts that reach the layer added last are open; what the next layer does not
/// touch has ended.
#pragma once
#include <cstdint>
#include <deque>
#include <memory>
#include <vector>

#include "../closeup/closeup.hpp"
#include "bodies.hpp"
#include "stretches.hpp"
#include "unions.hpp"

namespace hairline::risk {

/// What a part carried in one body when its lowest layer was done: all of it is printed later than the part begins.
struct Load {
  std::uint32_t body = 0;
  double volume_mm3 = 0;
};

/// What a part that vanishes has to do with bodies. Lists are sorted.
struct Bonds {
  std::vector<std::uint32_t> held, resting;                  ///< bodies above and beside it, and beneath it
  std::vector<std::uint32_t> starts;                         ///< pieces it leaves in the air
  std::vector<std::uint32_t> parts;                          ///< ended parts it touches across the border to the base
  std::vector<Load> loads;                                   ///< once it is at its end
  void absorb(const Bonds& other);                           ///< all but the loads
  std::vector<std::uint32_t> touched(Bodies& bodies) const;  ///< bodies it touches now, sorted
};

/// Memory of bonds with a few entries.
inline constexpr std::uint64_t bonds_bytes = sizeof(Bonds) + 64;

/// Puts a number into a sorted list, once.
void note(std::vector<std::uint32_t>& sorted, std::uint32_t number);

struct Part {
  Lot lot = Lot::will;
  bool base = false;
  double volume_mm3 = 0, front_mm2 = 0;
  BoxPx box;
  std::uint32_t from_layer = 0, to_layer = 0;
  VoxelPlace seed;  ///< one of its voxels
  /// Gaps: what it lies between, in the layer added last and in the one before, and whether some of that may not be
  /// joined right beside it. `sides_layer` 0: none yet.
  GapSides sides, sides_above;
  std::uint32_t sides_layer = 0;
  bool above_touched = false, apart = false;
  std::unique_ptr<Bonds> bonds;

  /// Adds what a gap's voxels of a layer lie between.
  void add_sides(const GapSides& other, std::uint32_t layer);
  /// May a gap that has ended join two solids? Where all that it touches is joined beside it, it does not.
  bool between_two() const;
  void absorb(Part&& other);
};

class Parts {
 public:
  /// Adds a layer's stretches, with their lots at the time of these parts; after it, and before the next, `let_go`.
  /// `scratch` holds nothing between layers.
  void add(const LayerFacts& layer, const LayerStretches& stretches, const std::vector<RowSpan>& above,
           const LotsNow& lots, LayerUnion& scratch);
  /// The part of a stretch of the layer added last, or of the one before; `none` where it stays.
  std::uint32_t of(std::uint32_t stretch) const { return now_[stretch]; }
  std::uint32_t of_above(std::uint32_t stretch) { return above_[stretch] == none ? none : find(above_[stretch]); }
  /// The layer before is done with: its stretches' parts are not asked for any more.
  void let_go(LayerUnion& scratch) { above_.swap(scratch.spare); }
  Part& at(std::uint32_t part) { return parts_[part]; }
  Bonds& bonds(std::uint32_t part);
  std::uint64_t bytes() const;
  /// Calls see(part) for the parts that are open.
  template <class See>
  void each_open(See see) const {
    for (const std::uint32_t part : open_) see(parts_[part]);
  }
  /// Calls see(part number) for the open parts that layer `number`, added last, does not touch; 0: all.
  template <class See>
  void each_ending(std::uint32_t number, See see) {
    for (const std::uint32_t part : open_) {
      if (forward_[part] == part && parts_[part].from_layer != number) see(part);
    }
  }
  /// Takes out what `each_ending` names, handing each to see(number, part).
  template <class See>
  void close(std::uint32_t number, See see);

 private:
  std::uint32_t find(std::uint32_t part) { return root_of(forward_, part); }
  std::uint32_t make(Lot lot, const LayerFacts& layer);
  std::uint32_t join(std::uint32_t a, std::uint32_t b);
  void find_parts(const LayerFacts& layer, const LayerStretches& stretches, const LotsNow& lots, LayerUnion& scratch);
  void add_up(const LayerFacts& layer, const LayerStretches& stretches, const std::vector<RowSpan>& above,
              const LotsNow& lots);

  std::deque<Part> parts_;  // free ones are as new
  std::vector<std::uint32_t> forward_;
  std::vector<std::uint32_t> open_, joined_, free_;
  std::vector<std::uint32_t> now_, above_;  // part of each stretch
};

template <class See>
void Parts::close(std::uint32_t number, See see) {
  std::erase_if(open_, [&](std::uint32_t part) {
    if (forward_[part] != part) {
      joined_.push_back(part);
      return true;
    }
    if (parts_[part].from_layer == number) return false;
    see(part, std::move(parts_[part]));
    parts_[part] = {};
    free_.push_back(part);
    return true;
  });
}

}  // namespace hairline::risk
