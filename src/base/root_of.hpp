/// Union-find: the one search that every user of it shares.
#pragma once
#include <cstdint>
#include <vector>

namespace hairline {

/// The root of `i`, halving the path to it (Tarjan and van Leeuwen 1984, from memory). A root is its own parent.
inline std::uint32_t root_of(std::vector<std::uint32_t>& parent, std::uint32_t i) {
  while (parent[i] != i) i = parent[i] = parent[parent[i]];
  return i;
}

}  // namespace hairline
