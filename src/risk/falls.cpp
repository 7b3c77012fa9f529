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
  std::map<std::uint32_t, std::uint32_t> vertex_of_body;
  std::vector<std::uint32_t> vertex_of_part;
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
  graph.vertex_of_part.assign(parts.size(), none);
  for (std::uint32_t i = 0; i < parts.size(); ++i) {
    const Part& part = parts[i].part;
    if (!part.bonds || part.lot != lot) continue;
    const std::uint32_t vertex = graph.vertex_of_part[i] = graph.add(none, i);
    bool grounded = part.from_layer == 1;
    for (const std::uint32_t body : part.bonds->touched(bodies)) {
      const bool stands = bodies.at(body).grounded;
      grounded = grounded || (stands && standing_is_plate);
      if (stands ? standing_is_plate : !counts(body)) continue;
      const auto [known, is_new] = graph.vertex_of_body.try_emplace(body, 0);
      if (is_new) {
        known->second = graph.add(body, none);
        if (stands) graph.tie(0, known->second);
      }
      graph.tie(vertex, known->second);
    }
    if (grounded) graph.tie(0, vertex);
    for (const std::uint32_t other : part.bonds->parts)
      if (graph.vertex_of_part[other] != none) graph.tie(vertex, graph.vertex_of_part[other]);
  }
  return graph;
}

// Depth-first tree from the plate, and its blocks: sets of vertices that no single one of them cuts apart. `met` is the
// order of meeting (none: not joined to the plate); a vertex belongs to `block`, but the plate; a block hangs on `top`.
struct Tree {
  std::vector<std::uint32_t> met, block;
  std::vector<std::vector<std::uint32_t>> members;  // of each block, without its top
  std::vector<std::uint32_t> top;
};

Tree walk(const Graph& graph) {
  const std::size_t count = graph.beside.size();
  Tree tree{std::vector<std::uint32_t>(count, none), std::vector<std::uint32_t>(count, none), {}, {}};
  std::vector<std::uint32_t> next(count, 0), earliest(count, none), path{0}, open;
  std::uint32_t order = 0;
  tree.met[0] = earliest[0] = order++;
  while (!path.empty()) {
    const std::uint32_t v = path.back();
    if (next[v] < graph.beside[v].size()) {
      const std::uint32_t w = graph.beside[v][next[v]++];
      if (tree.met[w] != none) {
        earliest[v] = std::min(earliest[v], tree.met[w]);
        continue;
      }
      tree.met[w] = earliest[w] = order++;
      path.push_back(w);
      open.push_back(w);
      continue;
    }
    path.pop_back();
    if (path.empty()) break;
    const std::uint32_t above = path.back();
    earliest[above] = std::min(earliest[above], earliest[v]);
    if (earliest[v] < tree.met[above]) continue;
    const auto block = static_cast<std::uint32_t>(tree.top.size());
    tree.top.push_back(above);
    tree.members.emplace_back();
    do {
      tree.members.back().push_back(open.back());
      tree.block[open.back()] = block;
      open.pop_back();
    } while (tree.members.back().back() != v);
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

// Names that tell bodies that stand without the `will` parts from those that stand without the `may` parts as well.
std::uint32_t standing_name(std::uint32_t body) {
  return 2 * body;
}
std::uint32_t sure_name(std::uint32_t body) {
  return 2 * body + 1;
}

}  // namespace

bool Standing::fallen(std::uint32_t body, Bodies& drawn) {
  return !standing_.bodies.at(body).grounded && drawn.at(drawn_of_[standing_.bodies.find(body)]).grounded;
}

void Standing::hang(std::uint32_t name, EndedPart& on, const RiskContext& context) {
  Bodies& bodies = without(on.part.lot).bodies;
  const double later_mm3 = printed_later_mm3(bodies, name / 2, on.part);
  if (later_mm3 <= 0) return;
  on.carries_mm3 += later_mm3;
  on.bodies.push_back(name);
  on.drops = on.drops || !is_crumb(body(name), context.settings);
}

// Bodies that lost their way to the plate hang on each lost part that some way there, as drawn, leads through without
// coming back: the parts of the blocks between them and the plate.
void Standing::hang_fallen(std::vector<EndedPart>& parts, Bodies& drawn, const RiskContext& context) {
  Bodies& standing = standing_.bodies;
  const Graph graph =
      graph_of(parts, Lot::will, standing, true, [&](std::uint32_t body) { return fallen(body, drawn); });
  const Tree tree = walk(graph);
  for (const auto& [body, vertex] : graph.vertex_of_body) {
    for (std::uint32_t v = vertex; v != 0 && tree.met[v] != none; v = tree.top[tree.block[v]]) {
      const std::uint32_t block = tree.block[v];
      const auto hang_on = [&, body = body](std::uint32_t w) {
        if (graph.part_of[w] == none || w == v) return;  // v: from the block before, where it is the top
        hang(standing_name(body), parts[graph.part_of[w]], context);
      };
      for (const std::uint32_t w : tree.members[block]) hang_on(w);
      hang_on(tree.top[block]);
    }
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
    std::uint32_t top = tree.top[tree.block[v]];
    while (top != 0 && graph.part_of[top] == none) top = tree.top[tree.block[top]];
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
  const auto carry = [&](std::uint32_t part, std::uint32_t v) {
    EndedPart& one = parts[part];
    if (graph.part_of[v] != none) {
      const Part& other = parts[graph.part_of[v]].part;
      if (other.from_layer >= one.part.from_layer) one.carries_mm3 += other.volume_mm3;
      return;
    }
    hang(sure_name(graph.body_of[v]), one, context);
  };
  for (std::uint32_t v = 1; v < graph.beside.size(); ++v) {
    if (tree.met[v] == none) continue;
    for (std::uint32_t top = tree.top[tree.block[v]]; top != 0; top = tree.top[tree.block[top]])
      if (graph.part_of[top] != none) carry(graph.part_of[top], v);
  }
  return held_together(graph, tree, sure);
}

std::vector<HeldTogether> Standing::settle(std::vector<EndedPart>& parts, Bodies& drawn, const RiskContext& context) {
  hang_fallen(parts, drawn, context);
  return hang_doubtful(parts, context);
}

// A loose body falls whole; of one that holds elsewhere only the piece that starts on nothing.
Fall Standing::fall_of(const Start& start, bool loose, const RiskContext& context) {
  if (!loose) return {start.layer, false, box_mm(context, start.box, start.layer, start.layer), start.volume_mm3, {}};
  const Body& whole = standing_.bodies.at(start.body);
  return {whole.from_layer, true, box_mm(context, whole), whole.volume_mm3, {}};
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
    const std::uint32_t body = standing_.bodies.find(starts_[i].body);
    const bool loose = fallen(body, drawn);
    if (!loose && !standing_.bodies.at(body).grounded) continue;  // part of an island the masks have themselves
    const std::size_t at = loose ? fall_of_body.try_emplace(body, found.size()).first->second : found.size();
    if (at == found.size()) found.push_back(fall_of(starts_[i], loose, context));
    found[at].details.insert(found[at].details.end(), causes[i].begin(), causes[i].end());
  }
  std::stable_sort(found.begin(), found.end(),
                   [](const Fall& a, const Fall& b) { return a.volume_mm3 > b.volume_mm3; });
  return found;
}

}  // namespace hairline::risk
