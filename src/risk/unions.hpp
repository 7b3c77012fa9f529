/// Union-find over a few numbers that start afresh with each layer; with a list that stands for nothing between calls.
#pragma once
#include <cstdint>
#include <numeric>
#include <vector>

#include "../base/root_of.hpp"

namespace hairline::risk {

inline constexpr std::uint32_t none = UINT32_MAX;

class LayerUnion {
 public:
  void reset(std::size_t count) {
    parent_.resize(count);
    std::iota(parent_.begin(), parent_.end(), 0u);
  }
  std::uint32_t find(std::uint32_t i) { return root_of(parent_, i); }
  void join(std::uint32_t a, std::uint32_t b) {
    a = find(a), b = find(b);
    (a < b ? parent_[b] : parent_[a]) = a < b ? a : b;
  }
  std::vector<std::uint32_t> spare;

 private:
  std::vector<std::uint32_t> parent_;
};

}  // namespace hairline::risk
