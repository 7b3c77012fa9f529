#include "standing.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "boxes.hpp"

namespace hairline::risk {
namespace {

struct Element {
  double volume_mm3 = 0;
  BoxPx box;
};

Element element(const CutLayer& layer, std::uint32_t e) {
  const auto pieces = static_cast<std::uint32_t>(layer.core->pieces.pieces.size());
  if (e < pieces) {
    const Piece& piece = layer.core->pieces.pieces[e];
    return {static_cast<double>(piece.area_px) * layer.voxel_mm3, piece.box};
  }
  const Stretch& s = layer.cut.stretches[e - pieces];
  return {(s.end - s.begin) * layer.voxel_mm3, {s.begin, s.row, s.end, s.row + 1}};
}

}  // namespace

// What the parts that end above layer `number` hold, before that layer joins the bodies.
void Standing::weigh(std::uint32_t number, Parts& parts) {
  parts.each_ending(number, [&](std::uint32_t part) {
    Part& one = parts.at(part);
    if (!one.bonds || one.bonds->held.empty()) return;
    Bodies& bodies = one.lot == Lot::will ? standing_ : sure_;
    std::vector<std::uint32_t> held;
    for (const std::uint32_t body : one.bonds->held) note(held, bodies.find(body));
    for (const std::uint32_t body : held) one.bonds->loads.push_back({body, bodies.at(body).volume_mm3});
  });
}

// Joins the elements whose lot is at most `most` to bodies.
void Standing::follow(Bodies& bodies, std::vector<std::uint32_t>& now, const std::vector<std::uint32_t>& before,
                      Lot most, const CutLayer& layer, const CutLayer* above, LayerUnion& scratch) {
  const auto pieces = static_cast<std::uint32_t>(layer.core->pieces.pieces.size());
  const auto elements = static_cast<std::uint32_t>(layer.element_count());
  const auto here = [&](std::uint32_t stretch) { return lot(layer, stretch) <= most; };
  scratch.reset(elements);
  for (const Link& link : layer.beside) {
    if (here(link.stretch)) scratch.join(link.piece, pieces + link.stretch);
  }
  for (const Touch& touch : layer.cut.beside) {
    if (here(touch.a) && here(touch.b)) scratch.join(pieces + touch.a, pieces + touch.b);
  }
  now.assign(elements, none);
  const auto take = [&](std::uint32_t e, std::uint32_t node) {
    std::uint32_t& own = now[scratch.find(e)];
    own = own == none ? bodies.find(node) : bodies.join(own, node);
  };
  if (above != nullptr) {
    const auto pieces_above = static_cast<std::uint32_t>(above->core->pieces.pieces.size());
    for (const Contact& contact : layer.contacts) take(contact.a, before[contact.b]);
    for (const Link& link : layer.above)
      if (here(link.stretch)) take(pieces + link.stretch, before[link.piece]);
    for (const Link& link : layer.below_above)
      if (lot(*above, link.stretch) <= most) take(link.piece, before[pieces_above + link.stretch]);
    for (const Touch& touch : layer.cut.above)
      if (lot(*above, touch.a) <= most && here(touch.b)) take(pieces + touch.b, before[pieces_above + touch.a]);
  }
  for (std::uint32_t e = 0; e < elements; ++e) {
    if (e >= pieces && !here(e - pieces)) continue;
    std::uint32_t& first = now[scratch.find(e)];  // at most e, so it is done
    if (first == none) {
      first = bodies.make(layer.number);
      if (&bodies == &standing_) drawn_of_.push_back(layer.drawn[e]);
    }
    now[e] = first = bodies.find(first);
    const Element one = element(layer, e);
    bodies.add(first, layer.number, one.volume_mm3, one.box);
  }
}

void Standing::note_bonds(const CutLayer& layer, const CutLayer* above, bool border, Parts& parts) {
  border_.clear();
  const auto pieces = static_cast<std::uint32_t>(layer.core->pieces.pieces.size());
  // A part of either lot and an element beside, above or beneath it.
  const auto meet = [&](std::uint32_t part, bool beneath, std::uint32_t e, const std::vector<std::uint32_t>& stands,
                        const std::vector<std::uint32_t>& sure) {
    const bool lost = parts.at(part).lot == Lot::will;
    const std::uint32_t node = lost ? stands[e] : sure[e];
    if (node == none) return;
    Bonds& bonds = parts.bonds(part);
    note(lost && beneath ? bonds.resting : bonds.held, (lost ? standing_ : sure_).find(node));
  };
  for (const Link& link : layer.beside)
    if (lot(layer, link.stretch) != Lot::stays) meet(parts.of(link.stretch), false, link.piece, stands_now_, sure_now_);
  for (const Touch& touch : layer.cut.beside) {
    for (const auto& [own, other] : {std::pair{touch.a, touch.b}, std::pair{touch.b, touch.a}})
      if (lot(layer, own) != Lot::stays) meet(parts.of(own), false, pieces + other, stands_now_, sure_now_);
  }
  if (above == nullptr) return;
  const auto pieces_above = static_cast<std::uint32_t>(above->core->pieces.pieces.size());
  for (const Link& link : layer.above)
    if (lot(layer, link.stretch) != Lot::stays)
      meet(parts.of(link.stretch), false, link.piece, stands_above_, sure_above_);
  for (const Link& link : layer.below_above)
    if (lot(*above, link.stretch) != Lot::stays)
      meet(parts.of_above(link.stretch), true, link.piece, stands_now_, sure_now_);
  for (const Touch& touch : layer.cut.above) {
    const bool at_risk = lot(layer, touch.b) != Lot::stays, above_at_risk = lot(*above, touch.a) != Lot::stays;
    if (at_risk) meet(parts.of(touch.b), false, pieces_above + touch.a, stands_above_, sure_above_);
    if (above_at_risk) meet(parts.of_above(touch.a), true, pieces + touch.b, stands_now_, sure_now_);
    if (border && at_risk && above_at_risk) border_.emplace_back(parts.of_above(touch.a), parts.of(touch.b));
  }
}

// Pieces of the layer above that this layer no longer supports, but did as drawn.
void Standing::note_starts(const CutLayer& layer, const CutLayer& above, Parts& parts) {
  const auto pieces_above = static_cast<std::uint32_t>(above.core->pieces.pieces.size());
  std::vector<bool> held(above.element_count(), false);  // by the first element of a group
  std::map<std::uint32_t, std::set<std::uint32_t>> causes;
  const auto rests = [&](std::uint32_t e, bool on_lost, std::uint32_t stretch) {
    if (stands_above_[e] == none) return;
    if (on_lost)
      causes[group_above_[e]].insert(parts.of(stretch));
    else
      held[group_above_[e]] = true;
  };
  for (const Contact& contact : layer.contacts) rests(contact.b, false, 0);
  for (const Link& link : layer.above) rests(link.piece, lot(layer, link.stretch) == Lot::will, link.stretch);
  for (const Link& link : layer.below_above) rests(pieces_above + link.stretch, false, 0);
  for (const Touch& touch : layer.cut.above) rests(pieces_above + touch.a, lot(layer, touch.b) == Lot::will, touch.b);
  for (const auto& [group, lost] : causes) {
    if (held[group]) continue;
    for (const std::uint32_t part : lost) note(parts.bonds(part).starts, static_cast<std::uint32_t>(starts_.size()));
    Start start{above.number, stands_above_[group], {}, 0};
    for (std::uint32_t e = 0; e < above.element_count(); ++e) {
      if (stands_above_[e] == none || group_above_[e] != group) continue;
      const Element one = element(above, e);
      start.box = hairline::join(start.box, one.box);
      start.volume_mm3 += one.volume_mm3;
    }
    starts_.push_back(start);
  }
}

void Standing::add(const LayerFacts& facts, const CutLayer& layer, const CutLayer* above, Parts& parts,
                   bool want_starts, LayerUnion& scratch) {
  weigh(facts.number, parts);
  std::swap(stands_now_, stands_above_);
  std::swap(sure_now_, sure_above_);
  std::swap(group_, group_above_);
  follow(sure_, sure_now_, sure_above_, Lot::stays, layer, above, scratch);
  follow(standing_, stands_now_, stands_above_, Lot::may, layer, above, scratch);
  if (want_starts) {
    group_.resize(layer.element_count());
    for (std::uint32_t e = 0; e < group_.size(); ++e) group_[e] = scratch.find(e);
    if (above != nullptr && !layer.cut.stretches.empty()) note_starts(layer, *above, parts);
  }
  note_bonds(layer, above, facts.border, parts);
}

bool Standing::may_carry(const Part& part, bool at_border) {
  if (!part.bonds) return false;
  Bodies& bodies = part.lot == Lot::will ? standing_ : sure_;
  std::vector<std::uint32_t> touched;
  for (const auto* list : {&part.bonds->held, &part.bonds->resting})
    for (const std::uint32_t body : *list) note(touched, bodies.find(body));
  const std::size_t ties =
      touched.size() + part.bonds->parts.size() + (part.from_layer == 1 ? 1 : 0) + (at_border ? 1 : 0);
  if (ties >= 2 || !part.bonds->starts.empty()) return true;
  if (part.lot == Lot::may && touched.size() == 1) sure_.add_volume(touched.front(), part.volume_mm3);
  return false;
}

bool Standing::fallen(std::uint32_t body, Bodies& drawn) {
  return !standing_.at(body).grounded && drawn.at(drawn_of_[standing_.find(body)]).grounded;
}

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
    std::vector<std::uint32_t> touched;
    for (const auto* list : {&part.bonds->held, &part.bonds->resting})
      for (const std::uint32_t body : *list) note(touched, bodies.find(body));
    for (const std::uint32_t body : touched) {
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
  for (const Load& load : part.bonds->loads)
    if (bodies.find(load.body) == body) return load.volume_mm3;
  return one.volume_mm3 * (one.to_layer - part.from_layer + 1) / (one.to_layer - one.from_layer + 1);
}

}  // namespace

// Bodies that lost their way to the plate hang on each lost part that some way there, as drawn, leads through without
// coming back: the parts of the blocks between them and the plate.
void Standing::settle_lost(std::vector<EndedPart>& parts, Bodies& drawn) {
  const Graph graph =
      graph_of(parts, Lot::will, standing_, true, [&](std::uint32_t body) { return fallen(body, drawn); });
  const Tree tree = walk(graph);
  for (const auto& [body, vertex] : graph.vertex_of_body) {
    for (std::uint32_t v = vertex; v != 0 && tree.met[v] != none; v = tree.top[tree.block[v]]) {
      const std::uint32_t block = tree.block[v];
      const auto hang = [&](std::uint32_t w) {
        if (graph.part_of[w] == none || w == v) return;  // v: from the block before, where it is the top
        EndedPart& one = parts[graph.part_of[w]];
        const double later_mm3 = printed_later_mm3(standing_, body, one.part);
        one.carries_mm3 += later_mm3;
        if (later_mm3 > 0) one.bodies.push_back(2 * body);
      };
      for (const std::uint32_t w : tree.members[block]) hang(w);
      hang(tree.top[block]);
    }
  }
}

// What stands, but only one doubtful part joins it to the plate.
void Standing::settle_doubtful(std::vector<EndedPart>& parts) {
  const Graph graph = graph_of(parts, Lot::may, sure_, false, [](std::uint32_t) { return true; });
  const Tree tree = walk(graph);
  const auto carry = [&](std::uint32_t part, std::uint32_t v) {
    EndedPart& one = parts[part];
    if (graph.part_of[v] != none) {
      const Part& other = parts[graph.part_of[v]].part;
      if (other.from_layer >= one.part.from_layer) one.carries_mm3 += other.volume_mm3;
      return;
    }
    const double later_mm3 = printed_later_mm3(sure_, graph.body_of[v], one.part);
    one.carries_mm3 += later_mm3;
    if (later_mm3 > 0) one.bodies.push_back(2 * graph.body_of[v] + 1);
  };
  for (std::uint32_t v = 1; v < graph.beside.size(); ++v) {
    if (tree.met[v] == none) continue;
    for (std::uint32_t top = tree.top[tree.block[v]]; top != 0; top = tree.top[tree.block[top]])
      if (graph.part_of[top] != none) carry(graph.part_of[top], v);
  }
}

void Standing::settle(std::vector<EndedPart>& parts, Bodies& drawn) {
  settle_lost(parts, drawn);
  settle_doubtful(parts);
}

std::vector<Fall> Standing::falls(const std::vector<EndedPart>& parts, Bodies& drawn, const RiskContext& context) {
  std::vector<std::vector<std::uint32_t>> causes(starts_.size());
  for (std::uint32_t i = 0; i < parts.size(); ++i) {
    if (!parts[i].part.bonds) continue;
    for (const std::uint32_t start : parts[i].part.bonds->starts) causes[start].push_back(i);
  }
  std::vector<Fall> falls;
  std::map<std::uint32_t, std::size_t> fall_of_body;
  for (std::size_t i = 0; i < starts_.size(); ++i) {
    const Start& start = starts_[i];
    const std::uint32_t body = standing_.find(start.body);
    const bool loose = fallen(body, drawn);
    if (!loose && !standing_.at(body).grounded) continue;  // part of an island the masks have themselves
    std::size_t at = falls.size();
    if (loose) at = fall_of_body.try_emplace(body, at).first->second;
    if (at == falls.size()) {
      const Body& whole = standing_.at(body);
      falls.emplace_back();
      Fall& fall = falls.back();
      fall.loose = loose;
      fall.layer = loose ? whole.from_layer : start.layer;
      fall.box = loose ? box_mm(context, whole.box, whole.from_layer, whole.to_layer)
                       : box_mm(context, start.box, start.layer, start.layer);
      fall.volume_mm3 = loose ? whole.volume_mm3 : start.volume_mm3;
    }
    falls[at].details.insert(falls[at].details.end(), causes[i].begin(), causes[i].end());
  }
  std::stable_sort(falls.begin(), falls.end(),
                   [](const Fall& a, const Fall& b) { return a.volume_mm3 > b.volume_mm3; });
  return falls;
}

}  // namespace hairline::risk
