#include "standing.hpp"

#include <algorithm>
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

// An element where it meets another.
struct Met {
  std::uint32_t element;
  Lot lot;  // core pieces stay
};

// Calls see(a, b) for elements of a layer that touch in it.
void each_beside(const CutLayer& layer, const LotsNow& lots, auto see) {
  const std::uint32_t pieces = layer.piece_count();
  const auto stretch = [&](std::uint32_t i) { return Met{pieces + i, lots.here[i]}; };
  for (const Link& link : layer.beside) see(Met{link.piece, Lot::stays}, stretch(link.stretch));
  for (const Touch& touch : layer.cut.beside) see(stretch(touch.a), stretch(touch.b));
}

// Calls see(a, b) for elements a of a layer and b of the one above it that share a pixel.
void each_over(const CutLayer& layer, const CutLayer& above, const LotsNow& lots, auto see) {
  const std::uint32_t pieces = layer.piece_count(), pieces_above = above.piece_count();
  const auto piece = [](std::uint32_t i) { return Met{i, Lot::stays}; };
  const auto here = [&](std::uint32_t i) { return Met{pieces + i, lots.here[i]}; };
  const auto there = [&](std::uint32_t i) { return Met{pieces_above + i, lots.above[i]}; };
  for (const Contact& contact : layer.contacts) see(piece(contact.a), piece(contact.b));
  for (const Link& link : layer.above) see(here(link.stretch), piece(link.piece));
  for (const Link& link : layer.below_above) see(piece(link.piece), there(link.stretch));
  for (const Touch& touch : layer.cut.above) see(here(touch.b), there(touch.a));
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
  scratch.reset(elements);
  each_beside(layer, lots, [&](Met a, Met b) {
    if (a.lot <= most && b.lot <= most) scratch.join(a.element, b.element);
  });
  now.assign(elements, none);
  if (above != nullptr)
    each_over(layer, *above, lots, [&](Met a, Met b) {
      if (a.lot > most || b.lot > most) return;
      std::uint32_t& own = now[scratch.find(a.element)];
      own = own == none ? bodies.find(before[b.element]) : bodies.join(own, before[b.element]);
    });
  for (std::uint32_t e = 0; e < elements; ++e) {
    if (e >= pieces && lots.here[e - pieces] > most) continue;
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
  each_beside(layer, lots, [&](Met a, Met b) {
    if (a.lot != Lot::stays) meet(parts.of(a.element - pieces), false, b.element, &Remains::now);
    if (b.lot != Lot::stays) meet(parts.of(b.element - pieces), false, a.element, &Remains::now);
  });
  if (above == nullptr) return;
  const std::uint32_t pieces_above = above->piece_count();
  each_over(layer, *above, lots, [&](Met a, Met b) {
    const std::uint32_t part = a.lot == Lot::stays ? none : parts.of(a.element - pieces);
    const std::uint32_t part_above = b.lot == Lot::stays ? none : parts.of_above(b.element - pieces_above);
    if (part != none) meet(part, false, b.element, &Remains::above);
    if (part_above != none) meet(part_above, true, a.element, &Remains::now);
    if (layer.facts.border && part != none && part_above != none) border_.emplace_back(part_above, part);
  });
}

// Pieces of the layer above that this layer no longer supports, but did as drawn.
void Standing::note_starts(const CutLayer& layer, const CutLayer& above, const LotsNow& lots, Parts& parts) {
  std::vector<bool> held(above.element_count(), false);  // by the first element of a group
  std::map<std::uint32_t, std::set<std::uint32_t>> causes;
  each_over(layer, above, lots, [&](Met a, Met b) {
    if (standing_.above[b.element] == none) return;
    if (a.lot == Lot::will)
      causes[group_above_[b.element]].insert(parts.of(a.element - layer.piece_count()));
    else
      held[group_above_[b.element]] = true;
  });
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
  if (!split_ && std::find(lots.here.begin(), lots.here.end(), Lot::may) != lots.here.end()) {
    sure_ = standing_;
    split_ = true;
  }
  if (split_) follow(sure_, Lot::stays, layer, above, lots, scratch);
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
