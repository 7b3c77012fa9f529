#include "bodies.hpp"

#include <algorithm>
#include <utility>

namespace hairline::risk {

void Body::absorb(const Body& other) {
  volume_mm3 += other.volume_mm3;
  box = hairline::join(box, other.box);
  from_layer = from_layer == 0 ? other.from_layer : std::min(from_layer, other.from_layer);
  to_layer = std::max(to_layer, other.to_layer);
  grounded = grounded || other.grounded;
}

std::uint32_t Bodies::make(std::uint32_t number) {
  parent_.push_back(static_cast<std::uint32_t>(parent_.size()));
  bodies_.push_back({0, {}, number, number, false});
  return parent_.back();
}

std::uint32_t Bodies::join(std::uint32_t a, std::uint32_t b) {
  std::uint32_t into = find(a), from = find(b);
  if (into == from) return into;
  if (from < into) std::swap(from, into);
  bodies_[into].absorb(bodies_[from]);
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
