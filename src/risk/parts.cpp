#include "parts.hpp"

#include <algorithm>
#include <iterator>
#include <utility>

namespace hairline::risk {
namespace {

void unite(std::vector<std::uint32_t>& into, const std::vector<std::uint32_t>& from) {
  if (from.empty()) return;
  std::vector<std::uint32_t> all;
  all.reserve(into.size() + from.size());
  std::set_union(into.begin(), into.end(), from.begin(), from.end(), std::back_inserter(all));
  into = std::move(all);
}

}  // namespace

void note(std::vector<std::uint32_t>& sorted, std::uint32_t number) {
  const auto at = std::lower_bound(sorted.begin(), sorted.end(), number);
  if (at == sorted.end() || *at != number) sorted.insert(at, number);
}

void Bonds::absorb(const Bonds& other) {
  unite(held, other.held);
  unite(resting, other.resting);
  unite(starts, other.starts);
  unite(parts, other.parts);
}

std::vector<std::uint32_t> Bonds::touched(Bodies& bodies) const {
  std::vector<std::uint32_t> found;
  for (const auto* list : {&held, &resting})
    for (const std::uint32_t body : *list) note(found, bodies.find(body));
  return found;
}

void Part::absorb(Part&& other) {
  volume_mm3 += other.volume_mm3;
  front_mm2 += other.front_mm2;
  box = hairline::join(box, other.box);
  from_layer = std::min(from_layer, other.from_layer);
  to_layer = std::max(to_layer, other.to_layer);
  apart = apart || other.apart;  // both reach the same layer, the one above
  above_touched = above_touched || other.above_touched;
  sides.add(other.sides);
  sides_above.add(other.sides_above);
  if (!bonds)
    bonds = std::move(other.bonds);
  else if (other.bonds)
    bonds->absorb(*other.bonds);
}

namespace {

// Is what a part touches in a layer one piece, and joined beside the part to what it touches in the one above?
bool apart_above(const Part& part) {
  PieceSet higher = part.sides_above.beside, here = part.sides.beside;
  higher.add(part.sides.above);
  here.add(part.sides_above.below);
  if (higher.more || here.more) return true;
  return (part.above_touched || part.sides.roof) && !part.sides.joined_up && !part.sides_above.joined_down;
}

}  // namespace

void Part::add_sides(const GapSides& other, std::uint32_t layer) {
  if (sides_layer != layer) {
    if (sides_layer != 0) {
      apart = apart || apart_above(*this);
      above_touched = above_touched || sides.touched();
    }
    sides_above = sides;
    sides = {};
    sides_layer = layer;
  }
  sides.add(other);
}

bool Part::between_two() const {
  return apart || apart_above(*this) || sides.below.more || (sides.floor && !sides.joined_down);
}

Bonds& Parts::bonds(std::uint32_t part) {
  std::unique_ptr<Bonds>& of = parts_[part].bonds;
  if (!of) of = std::make_unique<Bonds>();
  return *of;
}

std::uint32_t Parts::make(Lot lot, const LayerFacts& layer) {
  std::uint32_t part = static_cast<std::uint32_t>(parts_.size());
  if (free_.empty()) {
    parts_.emplace_back();
    forward_.push_back(part);
  } else {
    part = free_.back();
    free_.pop_back();
  }
  forward_[part] = part;
  parts_[part].lot = lot;
  parts_[part].base = layer.base;
  parts_[part].from_layer = parts_[part].to_layer = layer.number;
  open_.push_back(part);
  return part;
}

std::uint32_t Parts::join(std::uint32_t a, std::uint32_t b) {
  a = find(a), b = find(b);
  if (a == b) return a;
  parts_[a].absorb(std::move(parts_[b]));
  parts_[b] = {};
  forward_[b] = a;
  return a;
}

void Parts::find_parts(const LayerFacts& layer, const LayerStretches& stretches, const LotsNow& lots,
                       LayerUnion& scratch) {
  const std::vector<RowSpan>& here = stretches.stretches;
  scratch.reset(here.size());
  for (const Touch& touch : stretches.beside) {
    const Lot a = lots.here[touch.a];
    if (a != Lot::stays && a == lots.here[touch.b]) scratch.join(touch.a, touch.b);
  }
  now_.assign(here.size(), none);
  for (const Touch& touch : stretches.above) {
    const Lot a = lots.here[touch.b];
    if (layer.border || a == Lot::stays || a != lots.above[touch.a]) continue;
    std::uint32_t& part = now_[scratch.find(touch.b)];
    part = part == none ? find(above_[touch.a]) : join(part, above_[touch.a]);
  }
  for (std::uint32_t i = 0; i < here.size(); ++i) {
    const Lot a = lots.here[i];
    if (a == Lot::stays) continue;
    std::uint32_t& first = now_[scratch.find(i)];  // at most i, so it is done
    if (first == none) {
      first = make(a, layer);
      parts_[first].seed = {layer.number, static_cast<int>(here[i].row), static_cast<int>(here[i].begin)};
    }
    now_[i] = first = find(first);
  }
}

void Parts::add_up(const LayerFacts& layer, const LayerStretches& stretches, const std::vector<RowSpan>& above,
                   const LotsNow& lots) {
  const std::vector<RowSpan>& here = stretches.stretches;
  for (std::uint32_t i = 0; i < here.size(); ++i) {
    if (now_[i] == none) continue;
    const RowSpan& s = here[i];
    Part& part = parts_[now_[i]];
    part.volume_mm3 += (s.end - s.begin) * layer.voxel_mm3;
    part.front_mm2 += stretches.faces_mm2[i];
    part.box = hairline::join(part.box, {s.begin, s.row, s.end, s.row + 1});
    part.from_layer = layer.number;
    if (stretches.fate == Fate::fuse) part.add_sides(stretches.sides[i], layer.number);
  }
  // A face between two voxels at risk is no front of the one whose lot is not the worse.
  for (const Touch& touch : stretches.beside) {
    const Lot a = lots.here[touch.a], b = lots.here[touch.b];
    if (a == Lot::stays || b == Lot::stays) continue;
    const double area_mm2 = stretches.beside_mm2(touch);
    if (b >= a) parts_[now_[touch.a]].front_mm2 -= area_mm2;
    if (a >= b) parts_[now_[touch.b]].front_mm2 -= area_mm2;
  }
  for (const Touch& touch : stretches.above) {
    const Lot a = lots.above[touch.a], b = lots.here[touch.b];
    if (a == Lot::stays || b == Lot::stays) continue;
    const double area_mm2 = stretches.above_mm2(touch, above);
    if (b >= a) parts_[find(above_[touch.a])].front_mm2 -= area_mm2;
    if (a >= b) parts_[now_[touch.b]].front_mm2 -= area_mm2;
  }
}

std::uint64_t Parts::bytes() const {
  // What `now_` has spare comes from a thread's scratch, so it is not counted: the same answer on any threads.
  const std::size_t numbers =
      forward_.capacity() + open_.capacity() + joined_.capacity() + free_.capacity() + now_.size();
  return parts_.size() * sizeof(Part) + open_.size() * bonds_bytes + numbers * sizeof(std::uint32_t);
}

void Parts::add(const LayerFacts& layer, const LayerStretches& stretches, const std::vector<RowSpan>& above,
                const LotsNow& lots, LayerUnion& scratch) {
  free_.insert(free_.end(), joined_.begin(), joined_.end());  // nobody holds their numbers any more
  joined_.clear();
  above_.swap(now_);
  now_.swap(scratch.spare);
  if (stretches.stretches.empty()) {
    now_.clear();
    return;
  }
  find_parts(layer, stretches, lots, scratch);
  add_up(layer, stretches, above, lots);
}

}  // namespace hairline::risk
