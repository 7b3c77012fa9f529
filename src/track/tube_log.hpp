/// What is kept of one tube: area and box of its piece on every layer, packed.
///
/// Layers come from the top down and are read from the bottom up, the way bodies grow. Equal layers in a row become one
/// record with a count; a record holds only what differs from the one below, as zigzag variable-length numbers (7 bits
/// a byte, low bits first), so a sloping strut costs a few bytes a layer.
#pragma once
#include <cstddef>
#include <cstdint>
#include <deque>
#include <memory_resource>
#include <vector>

#include "hairline/layer.hpp"

namespace hairline::inner {

/// One piece on one layer.
struct Slice {
  std::uint64_t area_px = 0;
  BoxPx box;
  bool operator==(const Slice&) const = default;
};

class TubeLog {
 public:
  /// Adds the slice of the next lower layer.
  void push(const Slice& slice);
  /// Appends the finished log to `out`; push no more afterwards.
  void finish(std::pmr::deque<std::uint8_t>& out);

 private:
  void pack(const Slice& below);
  void put(std::uint64_t value);

  std::vector<std::uint8_t> packed_;
  Slice last_;               ///< the lowest slice so far,
  std::uint32_t count_ = 0;  ///< on this many layers, not yet packed
};

/// Reads the log of a tube of `layers` layers that ends before `at`.
class TubeLogReader {
 public:
  TubeLogReader(const std::pmr::deque<std::uint8_t>& logs, std::size_t at, std::uint32_t layers)
      : logs_(logs), at_(at), left_(layers) {}
  /// Takes the next stretch of equal slices, from the bottom up; false at the end.
  bool next();
  const Slice& slice() const { return slice_; }
  std::uint32_t count() const { return count_; }  ///< layers of the stretch

 private:
  std::uint64_t number();

  const std::pmr::deque<std::uint8_t>& logs_;
  std::size_t at_;
  std::uint32_t left_, count_ = 0;
  Slice slice_;
};

}  // namespace hairline::inner
