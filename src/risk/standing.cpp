#include "standing.hpp"

#include <map>
#include <set>

namespace hairline::risk {
namespace {

struct Element {
  double volume_mm3 = 0;
  BoxPx box;
};

Element element(const CutLayer& layer, std::uint32_t e) {
  const std::uint32_t pieces = layer.piece_count();
  if (e < pieces) {
    const Piece& piece = layer.core->pieces.pieces[e];
    return {static_cast<double>(piece.area_px) * layer.facts.voxel_mm3, piece.box};
  }
  const RowSpan& s = layer.cut.stretches[e - pieces];
  return {(s.end - s.begin) * layer.facts.voxel_mm3, {s.begin, s.row, s.end, s.row + 1}};
}

}  // namespace

std::uint64_t Standing::bytes() const {
  std::uint64_t bytes = standing_.bodies.bytes() + sure_.bodies.bytes() + starts_.capacity() * sizeof(Start);
  for (const auto* list :
       {&standing_.now, &standing_.above, &sure_.now, &sure_.above, &group_, &group_above_, &drawn_of_})
    bytes += list->capacity() * sizeof(std::uint32_t);
  return bytes;
}

void Standing::weigh(std::uint32_t number, Parts& parts) {
  parts.each_ending(number, [&](std::uint32_t part) {
    Part& one = parts.at(part);
    if (!one.bonds || one.bonds->held.empty()) return;
    Bodies& bodies = without(one.lot).bodies;
    std::vector<std::uint32_t> held;
    for (const std::uint32_t body : one.bonds->held) note(held, bodies.find(body));
    for (const std::uint32_t body : held) one.bonds->loads.push_back({body, bodies.at(body).volume_mm3});
  });
}

// Joins the elements whose lot is at most `most` to bodies.
void Standing::follow(Remains& remains, Lot most, const CutLayer& layer, const CutLayer* above, const LotsNow& lots,
                      LayerUnion& scratch) {
  std::swap(remains.now, remains.above);
  Bodies& bodies = remains.bodies;
  std::vector<std::uint32_t>& now = remains.now;
  const std::vector<std::uint32_t>& before = remains.above;
  const std::uint32_t pieces = layer.piece_count();
  const std::uint32_t elements = layer.element_count();
  const auto here = [&](std::uint32_t stretch) { return lots.here[stretch] <= most; };
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
    const std::uint32_t pieces_above = above->piece_count();
    for (const Contact& contact : layer.contacts) take(contact.a, before[contact.b]);
    for (const Link& link : layer.above)
      if (here(link.stretch)) take(pieces + link.stretch, before[link.piece]);
    for (const Link& link : layer.below_above)
      if (lots.above[link.stretch] <= most) take(link.piece, before[pieces_above + link.stretch]);
    for (const Touch& touch : layer.cut.above)
      if (lots.above[touch.a] <= most && here(touch.b)) take(pieces + touch.b, before[pieces_above + touch.a]);
  }
  for (std::uint32_t e = 0; e < elements; ++e) {
    if (e >= pieces && !here(e - pieces)) continue;
    std::uint32_t& first = now[scratch.find(e)];  // at most e, so it is done
    if (first == none) {
      first = bodies.make(layer.facts.number);
      if (&remains == &standing_) drawn_of_.push_back(layer.drawn[e]);
    }
    now[e] = first = bodies.find(first);
    const Element one = element(layer, e);
    bodies.add(first, layer.facts.number, one.volume_mm3, one.box);
  }
}

void Standing::note_bonds(const CutLayer& layer, const CutLayer* above, const LotsNow& lots, Parts& parts) {
  border_.clear();
  const std::uint32_t pieces = layer.piece_count();
  // A part of either lot and an element beside, above or beneath it.
  const auto meet = [&](std::uint32_t part, bool beneath, std::uint32_t e,
                        std::vector<std::uint32_t> Remains::*elements) {
    const Lot lot = parts.at(part).lot;
    Remains& remains = without(lot);
    const std::uint32_t node = (remains.*elements)[e];
    if (node == none) return;
    Bonds& bonds = parts.bonds(part);
    note(lot == Lot::will && beneath ? bonds.resting : bonds.held, remains.bodies.find(node));
  };
  for (const Link& link : layer.beside)
    if (lots.here[link.stretch] != Lot::stays) meet(parts.of(link.stretch), false, link.piece, &Remains::now);
  for (const Touch& touch : layer.cut.beside) {
    for (const auto& [own, other] : {std::pair{touch.a, touch.b}, std::pair{touch.b, touch.a}})
      if (lots.here[own] != Lot::stays) meet(parts.of(own), false, pieces + other, &Remains::now);
  }
  if (above == nullptr) return;
  const std::uint32_t pieces_above = above->piece_count();
  for (const Link& link : layer.above)
    if (lots.here[link.stretch] != Lot::stays) meet(parts.of(link.stretch), false, link.piece, &Remains::above);
  for (const Link& link : layer.below_above)
    if (lots.above[link.stretch] != Lot::stays) meet(parts.of_above(link.stretch), true, link.piece, &Remains::now);
  for (const Touch& touch : layer.cut.above) {
    const bool at_risk = lots.here[touch.b] != Lot::stays, above_at_risk = lots.above[touch.a] != Lot::stays;
    if (at_risk) meet(parts.of(touch.b), false, pieces_above + touch.a, &Remains::above);
    if (above_at_risk) meet(parts.of_above(touch.a), true, pieces + touch.b, &Remains::now);
    if (layer.facts.border && at_risk && above_at_risk)
      border_.emplace_back(parts.of_above(touch.a), parts.of(touch.b));
  }
}

// Pieces of the layer above that this layer no longer supports, but did as drawn.
void Standing::note_starts(const CutLayer& layer, const CutLayer& above, const LotsNow& lots, Parts& parts) {
  const std::uint32_t pieces_above = above.piece_count();
  std::vector<bool> held(above.element_count(), false);  // by the first element of a group
  std::map<std::uint32_t, std::set<std::uint32_t>> causes;
  const auto rests = [&](std::uint32_t e, bool on_lost, std::uint32_t stretch) {
    if (standing_.above[e] == none) return;
    if (on_lost)
      causes[group_above_[e]].insert(parts.of(stretch));
    else
      held[group_above_[e]] = true;
  };
  for (const Contact& contact : layer.contacts) rests(contact.b, false, 0);
  for (const Link& link : layer.above) rests(link.piece, lots.here[link.stretch] == Lot::will, link.stretch);
  for (const Link& link : layer.below_above) rests(pieces_above + link.stretch, false, 0);
  for (const Touch& touch : layer.cut.above) rests(pieces_above + touch.a, lots.here[touch.b] == Lot::will, touch.b);
  std::map<std::uint32_t, std::size_t> start_of;  // by group
  for (const auto& [group, lost] : causes) {
    if (held[group]) continue;
    for (const std::uint32_t part : lost) note(parts.bonds(part).starts, static_cast<std::uint32_t>(starts_.size()));
    start_of.emplace(group, starts_.size());
    starts_.push_back({above.facts.number, standing_.above[group], {}, 0});
  }
  for (std::uint32_t e = 0; e < above.element_count() && !start_of.empty(); ++e) {
    const auto at = standing_.above[e] == none ? start_of.end() : start_of.find(group_above_[e]);
    if (at == start_of.end()) continue;
    const Element one = element(above, e);
    Start& start = starts_[at->second];
    start.box = hairline::join(start.box, one.box);
    start.volume_mm3 += one.volume_mm3;
  }
}

void Standing::add(const CutLayer& layer, const CutLayer* above, const LotsNow& lots, Parts& parts, bool want_starts,
                   LayerUnion& scratch) {
  weigh(layer.facts.number, parts);
  std::swap(group_, group_above_);
  follow(sure_, Lot::stays, layer, above, lots, scratch);
  follow(standing_, Lot::may, layer, above, lots, scratch);
  if (want_starts) {
    group_.resize(layer.element_count());
    for (std::uint32_t e = 0; e < group_.size(); ++e) group_[e] = scratch.find(e);
    if (above != nullptr && !layer.cut.stretches.empty()) note_starts(layer, *above, lots, parts);
  }
  note_bonds(layer, above, lots, parts);
}

bool Standing::may_carry(const Part& part, bool at_border) {
  if (!part.bonds) return false;
  const std::vector<std::uint32_t> touched = part.bonds->touched(without(part.lot).bodies);
  const std::size_t ties =
      touched.size() + part.bonds->parts.size() + (part.from_layer == 1 ? 1 : 0) + (at_border ? 1 : 0);
  if (ties >= 2 || !part.bonds->starts.empty()) return true;
  if (part.lot == Lot::may && touched.size() == 1) sure_.bodies.add_volume(touched.front(), part.volume_mm3);
  return false;
}

}  // namespace hairline::risk
