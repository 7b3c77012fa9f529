// What hangs on the parts that vanish, and what falls with them, by the blocks of a graph of bodies and parts (Hopcroft
// and Tarjan 1973, from memory).
#include <algorithm>
#include <map>

#include "boxes.hpp"
#include "candidates.hpp"
#include "standing.hpp"

namespace hairline::risk {
namespace {

// Bodies and parts that touch; vertex 0 is the plate.
struct Graph {
  std::vector<std::vector<std::uint32_t>> beside{1};
  std::vector<std::uint32_t> body_of{none}, part_of{none};  // of each vertex, or none
  std::uint32_t add(std::uint32_t body, std::uint32_t part) {
    body_of.push_back(body);
    part_of.push_back(part);
    beside.emplace_back();
    return static_cast<std::uint32_t>(beside.size() - 1);
  }
  void tie(std::uint32_t a, std::uint32_t b) {
    beside[a].push_back(b);
    beside[b].push_back(a);
  }
};

// Of the parts of one lot and the bodies they touch. What stands is one with the plate where `standing_is_plate`, and
// tied to it elsewhere; `counts(body)`: is a body that does not stand in the graph?
template <class Counts>
Graph graph_of(const std::vector<EndedPart>& parts, Lot lot, Bodies& bodies, bool standing_is_plate, Counts counts) {
  Graph graph;
  std::map<std::uint32_t, std::uint32_t> vertex_of_body;
  std::vector<std::uint32_t> vertex_of_part(parts.size(), none);
  for (std::uint32_t i = 0; i < parts.size(); ++i) {
    const Part& part = parts[i].part;
    if (!part.bonds || part.lot != lot) continue;
    const std::uint32_t vertex = vertex_of_part[i] = graph.add(none, i);
    bool grounded = part.from_layer == 1;
    for (const std::uint32_t body : part.bonds->touched(bodies)) {
      const bool stands = bodies.at(body).grounded;
      grounded = grounded || (stands && standing_is_plate);
      if (stands ? standing_is_plate : !counts(body)) continue;
      const auto [known, is_new] = vertex_of_body.try_emplace(body, 0);
      if (is_new) {
        known->second = graph.add(body, none);
        if (stands) graph.tie(0, known->second);
      }
      graph.tie(vertex, known->second);
    }
    if (grounded) graph.tie(0, vertex);
    for (const std::uint32_t other : part.bonds->parts)
      if (vertex_of_part[other] != none) graph.tie(vertex, vertex_of_part[other]);
  }
  return graph;
}

// A set of vertices that no single one of them cuts apart. What lies beyond it, seen from the plate, was met together.
struct Block {
  std::uint32_t top = 0;               // where it hangs
  std::vector<std::uint32_t> members;  // without its top
  std::uint32_t first = 0, last = 0;   // of the order of meeting: its members and all that hangs on them
};

// Depth-first tree from the plate, and its blocks. Each vertex has its place in the order of meeting (none: not joined
// to the plate) and, but the plate, belongs to a block.
struct Tree {
  std::vector<std::uint32_t> met, block;
  std::vector<std::uint32_t> order;  // the vertices
  std::vector<Block> blocks;
  std::uint32_t top_of(std::uint32_t vertex) const { return blocks[block[vertex]].top; }
};

Tree walk(const Graph& graph) {
  const std::size_t count = graph.beside.size();
  Tree tree{std::vector<std::uint32_t>(count, none), std::vector<std::uint32_t>(count, none), {}, {}};
  std::vector<std::uint32_t> next(count, 0), earliest(count, none), path{0}, open;
  const auto meet = [&](std::uint32_t v) {
    tree.met[v] = earliest[v] = static_cast<std::uint32_t>(tree.order.size());
    tree.order.push_back(v);
  };
  meet(0);
  while (!path.empty()) {
    const std::uint32_t v = path.back();
    if (next[v] < graph.beside[v].size()) {
      const std::uint32_t w = graph.beside[v][next[v]++];
      if (tree.met[w] != none) {
        earliest[v] = std::min(earliest[v], tree.met[w]);
        continue;
      }
      meet(w);
      path.push_back(w);
      open.push_back(w);
      continue;
    }
    path.pop_back();
    if (path.empty()) break;
    const std::uint32_t above = path.back();
    earliest[above] = std::min(earliest[above], earliest[v]);
    if (earliest[v] < tree.met[above]) continue;
    Block block{above, {}, tree.met[v], static_cast<std::uint32_t>(tree.order.size())};
    do {
      block.members.push_back(open.back());
      tree.block[open.back()] = static_cast<std::uint32_t>(tree.blocks.size());
      open.pop_back();
    } while (block.members.back() != v);
    tree.blocks.push_back(std::move(block));
  }
  return tree;
}

// What of a body is printed from the part's lowest layer on. `loads`: bodies that the part held when it ended.
double printed_later_mm3(Bodies& bodies, std::uint32_t body, const Part& part) {
  const Body& one = bodies.at(body);
  if (one.from_layer >= part.from_layer) return one.volume_mm3;
  if (one.to_layer < part.from_layer) return 0;
  double held_mm3 = 0;  // in several pieces that were one no more above the part
  for (const Load& load : part.bonds->loads)
    if (bodies.find(load.body) == body) held_mm3 += load.volume_mm3;
  if (held_mm3 > 0) return held_mm3;
  return one.volume_mm3 * (one.to_layer - part.from_layer + 1) / (one.to_layer - one.from_layer + 1);
}

// Lists the graph's bodies in the order in which they were met. Of each vertex in that order comes back how many were
// listed before it.
std::vector<std::uint32_t> list_bodies(const Graph& graph, const Tree& tree, std::vector<std::uint32_t>& bodies) {
  std::vector<std::uint32_t> places;
  for (const std::uint32_t v : tree.order) {
    places.push_back(static_cast<std::uint32_t>(bodies.size()));
    if (graph.body_of[v] != none) bodies.push_back(graph.body_of[v]);
  }
  places.push_back(static_cast<std::uint32_t>(bodies.size()));
  return places;
}

// Many bodies that hang on the same parts: some of those that are listed.
class Loads {
 public:
  Loads(Bodies& bodies, const std::vector<std::uint32_t>& listed, const BodyRange& range, const RiskSettings& settings)
      : bodies_(bodies), range_(range), sorted_(listed.begin() + range.first, listed.begin() + range.last) {
    std::stable_sort(sorted_.begin(), sorted_.end(),
                     [&](std::uint32_t a, std::uint32_t b) { return from_layer(a) > from_layer(b); });
    sums_mm3_.push_back(0);
    for (const std::uint32_t body : sorted_) {
      const Body& one = bodies_.at(body);
      sums_mm3_.push_back(sums_mm3_.back() + one.volume_mm3);
      tallest_ = std::max(tallest_, one.to_layer - one.from_layer + 1);
      if (!is_crumb(one, settings)) highest_ = std::max(highest_, one.to_layer);
    }
  }
  void hang_on(EndedPart& on) {
    const Part& part = on.part;
    const auto partly = std::partition_point(sorted_.begin(), sorted_.end(),
                                             [&](std::uint32_t body) { return from_layer(body) >= part.from_layer; });
    on.carries_mm3 += sums_mm3_[static_cast<std::size_t>(partly - sorted_.begin())];
    for (auto body = partly; body != sorted_.end() && from_layer(*body) + tallest_ > part.from_layer; ++body)
      on.carries_mm3 += printed_later_mm3(bodies_, *body, part);
    on.drops = on.drops || highest_ >= part.from_layer;
    on.bodies.push_back(range_);
  }

 private:
  std::uint32_t from_layer(std::uint32_t body) { return bodies_.at(body).from_layer; }
  Bodies& bodies_;
  BodyRange range_;
  std::vector<std::uint32_t> sorted_;  // from the top down
  std::vector<double> sums_mm3_;       // of the first ones
  std::uint32_t tallest_ = 0;          // in layers
  std::uint32_t highest_ = 0;          // layer that one reaches which is no crumb
};

}  // namespace

bool Standing::fallen(std::uint32_t body, Bodies& drawn) {
  return !standing_.bodies.at(body).grounded && drawn.at(drawn_of_[standing_.bodies.find(body)]).grounded;
}

// Bodies that lost their way to the plate hang on each lost part that some way there, as drawn, leads through without
// coming back: the parts of the blocks between them and the plate.
void Standing::hang_fallen(std::vector<EndedPart>& parts, Bodies& drawn, const RiskContext& context) {
  Bodies& standing = standing_.bodies;
  const Graph graph =
      graph_of(parts, Lot::will, standing, true, [&](std::uint32_t body) { return fallen(body, drawn); });
  const Tree tree = walk(graph);
  const std::vector<std::uint32_t> places = list_bodies(graph, tree, standing_.hung);
  for (const Block& block : tree.blocks) {
    const BodyRange range{places[block.first], places[block.last]};
    if (range.first == range.last) continue;
    Loads loads(standing, standing_.hung, range, context.settings);
    for (const std::uint32_t member : block.members)
      if (graph.part_of[member] != none) loads.hang_on(parts[graph.part_of[member]]);
  }
}

namespace {

// Bodies that only doubtful parts join to the plate, several of them: no vertex between them and the plate is a part.
std::vector<HeldTogether> held_together(const Graph& graph, const Tree& tree, Bodies& sure) {
  const auto stands = [&](std::uint32_t v) {
    return v == 0 || (graph.body_of[v] != none && sure.at(graph.body_of[v]).grounded);
  };
  const auto is_held = [&](std::uint32_t v) {
    if (graph.body_of[v] == none || tree.met[v] == none || stands(v)) return false;
    std::uint32_t top = tree.top_of(v);
    while (top != 0 && graph.part_of[top] == none) top = tree.top_of(top);
    return top == 0;
  };
  std::vector<HeldTogether> found;
  std::vector<bool> seen(graph.beside.size(), false);
  for (std::uint32_t first = 1; first < graph.beside.size(); ++first) {
    if (seen[first] || !is_held(first)) continue;
    HeldTogether together;
    std::vector<std::uint32_t> open{first};
    seen[first] = true;
    while (!open.empty()) {
      const std::uint32_t v = open.back();
      open.pop_back();
      if (graph.part_of[v] != none)
        ++together.parts;
      else if (is_held(v))
        together.solid.absorb(sure.at(graph.body_of[v]));
      for (const std::uint32_t w : graph.beside[v]) {
        if (seen[w] || stands(w)) continue;
        seen[w] = true;
        open.push_back(w);
      }
    }
    found.push_back(together);
  }
  std::stable_sort(found.begin(), found.end(), [](const HeldTogether& a, const HeldTogether& b) {
    return a.solid.volume_mm3 > b.solid.volume_mm3;
  });
  return found;
}

}  // namespace

// What stands, but only one doubtful part joins it to the plate.
std::vector<HeldTogether> Standing::hang_doubtful(std::vector<EndedPart>& parts, const RiskContext& context) {
  Bodies& sure = sure_.bodies;
  const Graph graph = graph_of(parts, Lot::may, sure, false, [](std::uint32_t) { return true; });
  const Tree tree = walk(graph);
  const std::vector<std::uint32_t> places = list_bodies(graph, tree, sure_.hung);
  for (const Block& block : tree.blocks) {
    if (graph.part_of[block.top] == none) continue;
    EndedPart& on = parts[graph.part_of[block.top]];
    Loads(sure, sure_.hung, {places[block.first], places[block.last]}, context.settings).hang_on(on);
    for (std::uint32_t k = block.first; k < block.last; ++k) {
      const std::uint32_t part = graph.part_of[tree.order[k]];
      if (part != none && parts[part].part.from_layer >= on.part.from_layer)
        on.carries_mm3 += parts[part].part.volume_mm3;
    }
  }
  return held_together(graph, tree, sure);
}

std::vector<HeldTogether> Standing::settle(std::vector<EndedPart>& parts, Bodies& drawn, const RiskContext& context) {
  hang_fallen(parts, drawn, context);
  return hang_doubtful(parts, context);
}

std::vector<Fall> Standing::falls(const std::vector<EndedPart>& parts, Bodies& drawn, const RiskContext& context) {
  std::vector<std::vector<std::uint32_t>> causes(starts_.size());
  for (std::uint32_t i = 0; i < parts.size(); ++i) {
    if (!parts[i].part.bonds) continue;
    for (const std::uint32_t start : parts[i].part.bonds->starts) causes[start].push_back(i);
  }
  std::vector<Fall> found;
  std::map<std::uint32_t, std::size_t> fall_of_body;
  for (std::size_t i = 0; i < starts_.size(); ++i) {
    const Start& start = starts_[i];
    const std::uint32_t body = standing_.bodies.find(start.body);
    const Body& whole = standing_.bodies.at(body);
    const bool loose = fallen(body, drawn);
    if (!loose && !whole.grounded) continue;  // part of an island the masks have themselves
    const std::size_t at = loose ? fall_of_body.try_emplace(body, found.size()).first->second : found.size();
    if (loose && at == found.size())
      found.push_back({whole.from_layer, true, box_mm(context, whole), whole.volume_mm3, {}});
    else if (!loose)  // it holds elsewhere: only the piece that starts on nothing
      found.push_back({start.layer, false, box_mm(context, start.box, start.layer, start.layer), start.volume_mm3, {}});
    found[at].details.insert(found[at].details.end(), causes[i].begin(), causes[i].end());
  }
  std::stable_sort(found.begin(), found.end(),
                   [](const Fall& a, const Fall& b) { return a.volume_mm3 > b.volume_mm3; });
  return found;
}

}  // namespace hairline::risk
