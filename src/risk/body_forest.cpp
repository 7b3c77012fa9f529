#include "body_forest.hpp"

#include <algorithm>

namespace hairline::risk {

std::uint32_t BodyForest::find(std::uint32_t node) {
  while (parent_[node] != node) {
    parent_[node] = parent_[parent_[node]];
    node = parent_[node];
  }
  return node;
}

const std::vector<std::uint32_t>& BodyForest::add(std::uint32_t number, double voxel_mm3, const Pieces& pieces,
                                                  const std::vector<Contact>& contacts_above) {
  constexpr std::uint32_t none = UINT32_MAX;
  std::vector<std::uint32_t> nodes(pieces.pieces.size(), none);
  for (const Contact& contact : contacts_above) {
    const std::uint32_t above = find(node_[contact.b]);
    std::uint32_t& node = nodes[contact.a];
    if (node == none || find(node) == above) {
      node = above;
      continue;
    }
    std::uint32_t into = find(node), from = above;
    if (from < into) std::swap(from, into);  // the older node stays
    Body& body = bodies_[into];
    const Body& other = bodies_[from];
    body.volume_mm3 += other.volume_mm3;
    body.box = join(body.box, other.box);
    body.from_layer = std::min(body.from_layer, other.from_layer);
    body.to_layer = std::max(body.to_layer, other.to_layer);
    parent_[from] = into;
    node = into;
  }
  for (std::size_t i = 0; i < nodes.size(); ++i) {
    if (nodes[i] == none) {
      nodes[i] = static_cast<std::uint32_t>(parent_.size());
      parent_.push_back(nodes[i]);
      bodies_.push_back({0, {}, number, number, false});
    }
    nodes[i] = find(nodes[i]);
    Body& body = bodies_[nodes[i]];
    body.volume_mm3 += static_cast<double>(pieces.pieces[i].area_px) * voxel_mm3;
    body.box = join(body.box, pieces.pieces[i].box);
    body.from_layer = number;
    body.grounded = body.grounded || number == 1;
  }
  node_ = std::move(nodes);
  return node_;
}

}  // namespace hairline::risk
