/// Bodies: solid joined over layers from the top down, with what it weighs and whether it stands on the plate.
#pragma once
#include <cstdint>
#include <vector>

#include "hairline/measure.hpp"
#include "unions.hpp"

namespace hairline::risk {

struct Body {
  double volume_mm3 = 0;
  BoxPx box;
  std::uint32_t from_layer = 0, to_layer = 0;
  bool grounded = false;
  void absorb(const Body& other);
};

/// Nodes are numbered in the order of their birth; the older one stays when two are joined.
class Bodies {
 public:
  std::uint32_t make(std::uint32_t number);
  std::uint32_t find(std::uint32_t node) { return root_of(parent_, node); }
  std::uint32_t join(std::uint32_t a, std::uint32_t b);
  /// Adds solid of layer `number`.
  void add(std::uint32_t node, std::uint32_t number, double volume_mm3, const BoxPx& box);
  void add_volume(std::uint32_t node, double volume_mm3) { bodies_[find(node)].volume_mm3 += volume_mm3; }
  const Body& at(std::uint32_t node) { return bodies_[find(node)]; }
  std::uint64_t bytes() const { return parent_.capacity() * sizeof(std::uint32_t) + bodies_.capacity() * sizeof(Body); }

 private:
  std::vector<std::uint32_t> parent_;
  std::vector<Body> bodies_;
};

}  // namespace hairline::risk
