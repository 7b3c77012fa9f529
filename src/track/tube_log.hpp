/// What is kept of one tube: area, box and height of its piece on every layer, packed.
///
/// Layers come from the top down. Equal layers in a row become one record with a count; a record holds only what
/// changed, as zigzag variable-length numbers (7 bits a byte, low bits first), so a sloping strut costs a few bytes a
/// layer.
#pragma once
#include <cstdint>
#include <vector>

#include "hairline/layer.hpp"

namespace hairline::detail {

/// One piece on one layer.
struct Slice {
  std::uint64_t area_px = 0;
  BoxPx box;
  double height_mm = 0;
  bool operator==(const Slice&) const = default;
};

class TubeLog {
 public:
  /// Adds the slice of the next lower layer.
  void push(const Slice& slice);
  /// Calls see(first layer below the top, count, slice) for every stretch of equal slices, from the top down; layers
  /// are counted from 0 at the top of the tube.
  template <class See>
  void for_each(See see) const {
    Slice slice;
    std::uint32_t at = 0;
    for (std::size_t i = 0; i < packed_.size();) {
      const std::uint32_t count = unpack(i, slice);
      see(at, count, slice);
      at += count;
    }
    if (count_ > 0) see(at, count_, last_);
  }
  const Slice& lowest() const { return last_; }

 private:
  void pack();
  std::uint32_t unpack(std::size_t& at, Slice& slice) const;
  std::uint64_t number(std::size_t& at) const;
  void put(std::uint64_t value);

  std::vector<std::uint8_t> packed_;
  Slice packed_last_;        ///< the slice the packed records end with
  Slice last_;               ///< the lowest slice so far,
  std::uint32_t count_ = 0;  ///< on this many layers, not yet packed
};

}  // namespace hairline::detail
