/// Bodies: pieces joined over layers from the top down, with what they weigh and whether they stand on the plate.
#pragma once
#include <cstdint>
#include <vector>

#include "hairline/measure.hpp"

namespace hairline::risk {

struct Body {
  double volume_mm3 = 0;
  BoxPx box;
  std::uint32_t from_layer = 0, to_layer = 0;
  bool grounded = false;
};

class BodyForest {
 public:
  /// Adds a layer's pieces; `contacts_above` pairs them (a) with the pieces of the layer added before (b). Returns the
  /// node of each piece; valid until the next call.
  const std::vector<std::uint32_t>& add(std::uint32_t number, double voxel_mm3, const Pieces& pieces,
                                        const std::vector<Contact>& contacts_above);
  std::uint32_t find(std::uint32_t node);
  const Body& body(std::uint32_t node) { return bodies_[find(node)]; }

 private:
  std::vector<std::uint32_t> parent_;
  std::vector<Body> bodies_;
  std::vector<std::uint32_t> node_;  // of the pieces of the layer added last
};

}  // namespace hairline::risk
