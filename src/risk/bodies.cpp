#include "bodies.hpp"

#include <algorithm>
#include <utility>

namespace hairline::risk {

std::uint32_t Bodies::make(std::uint32_t number) {
  parent_.push_back(static_cast<std::uint32_t>(parent_.size()));
  bodies_.push_back({0, {}, number, number, false});
  return parent_.back();
}

std::uint32_t Bodies::join(std::uint32_t a, std::uint32_t b) {
  std::uint32_t into = find(a), from = find(b);
  if (into == from) return into;
  if (from < into) std::swap(from, into);
  Body& body = bodies_[into];
  const Body& other = bodies_[from];
  body.volume_mm3 += other.volume_mm3;
  body.box = hairline::join(body.box, other.box);
  body.from_layer = std::min(body.from_layer, other.from_layer);
  body.to_layer = std::max(body.to_layer, other.to_layer);
  body.grounded = body.grounded || other.grounded;
  parent_[from] = into;
  return into;
}

void Bodies::add(std::uint32_t node, std::uint32_t number, double volume_mm3, const BoxPx& box) {
  Body& body = bodies_[find(node)];
  body.volume_mm3 += volume_mm3;
  body.box = hairline::join(body.box, box);
  body.from_layer = number;
  body.grounded = body.grounded || number == 1;
}

}  // namespace hairline::risk
