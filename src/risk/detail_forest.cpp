#include "detail_forest.hpp"

#include <numeric>
#include <span>

namespace hairline::risk {
namespace {

constexpr std::uint32_t no_node = UINT32_MAX;

// A place in reading order, as one number.
std::uint64_t place_of(std::uint32_t row, std::uint32_t col) {
  return (std::uint64_t{row} << 32) + col;
}

// Calls meet(i, j) for stretches i of `a` and j of `b` that lie `rows_apart` rows apart (b below a) and touch within
// `slack` columns.
template <class Meet>
void meetings(const std::vector<Stretch>& a, const std::vector<Stretch>& b, std::uint32_t rows_apart,
              std::uint32_t slack, Meet meet) {
  std::size_t j = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    const std::uint64_t from = place_of(a[i].row + rows_apart, a[i].begin);
    const std::uint64_t to = place_of(a[i].row + rows_apart, a[i].end + slack);
    while (j < b.size() && place_of(b[j].row, b[j].end + slack) <= from) ++j;
    for (std::size_t k = j; k < b.size() && place_of(b[k].row, b[k].begin) < to; ++k) meet(i, k);
  }
}

void add_stretch(const LayerFacts& layer, const JudgedRuns& judged, const Stretch& stretch, DetailSum& into) {
  const std::uint64_t voxels = stretch.end - stretch.begin;
  into.voxels += voxels;
  into.flipped += stretch.flipped;
  into.volume_mm3 += static_cast<double>(voxels) * layer.voxel_mm3;
  into.box = hairline::join(into.box, {stretch.begin, stretch.row, stretch.end, stretch.row + 1});
  into.from_layer = layer.number;
  if (into.to_layer == 0) into.to_layer = layer.number;
  if (stretch.flat_gap_mm < into.width_mm) {
    into.width_mm = stretch.flat_gap_mm;
    into.flat = true;
  }
  into.bins.add(std::span(judged.bins).subspan(stretch.first_run, stretch.end_run - stretch.first_run));
}

}  // namespace

std::uint32_t DetailForest::fresh(Sets sets) {
  const std::uint32_t node = free_place(free_nodes_, parent_), slot = free_place(free_slots_, clumps_);
  slot_.resize(parent_.size());
  parent_[node] = node;
  slot_[node] = slot;
  nodes_.push_back(node);
  Clump& one = clumps_[slot];
  one.sets = sets;
  if ((sets & at_risk) != 0) one.detail = details_.make();
  if ((sets & in_range) != 0) one.contender = contenders_.make();
  return node;
}

// What touches belongs to one detail, and to one contender, as far as both are in the set.
void DetailForest::link(std::uint32_t a, std::uint32_t b) {
  Clump &one = clump(a), &other = clump(b);
  const Sets both = one.sets & other.sets;
  // Mostly they do already, since the layer above.
  if ((both & at_risk) != 0 && one.detail != other.detail) details_.join(one.detail, other.detail);
  if ((both & in_range) != 0 && one.contender != other.contender) contenders_.join(one.contender, other.contender);
}

// Clumps of one kind become one.
std::uint32_t DetailForest::join(std::uint32_t a, std::uint32_t b) {
  a = find(a), b = find(b);
  if (a == b) return a;
  link(a, b);
  Clump &into = clumps_[slot_[a]], &from = clumps_[slot_[b]];
  if ((into.sets & at_risk) != 0) details_.drop_clump(into.detail);
  if ((into.sets & in_range) != 0) contenders_.drop_clump(into.contender);
  into.sum.absorb(std::move(from.sum));
  forget(b);
  parent_[b] = a;
  return a;
}

void DetailForest::forget(std::uint32_t root) {
  clumps_[slot_[root]] = {};
  free_slots_.push_back(slot_[root]);
}

// Which stretches of the layer touch: `piece_` names the first of each piece.
void DetailForest::find_pieces() {
  piece_.resize(now_.size());
  std::iota(piece_.begin(), piece_.end(), 0u);
  touching_.clear();
  std::uint32_t* piece = piece_.data();
  const auto first_of = [piece](std::size_t stretch) {
    auto i = static_cast<std::uint32_t>(stretch);
    while (piece[i] != i) i = piece[i] = piece[piece[i]];
    return i;
  };
  const auto touch = [&](std::size_t i, std::size_t j) {
    touching_.push_back({static_cast<std::uint32_t>(i), static_cast<std::uint32_t>(j)});
  };
  for (std::size_t i = 1; i < now_.size(); ++i) {
    if (now_[i - 1].row == now_[i].row && now_[i - 1].end == now_[i].begin) touch(i - 1, i);
  }
  meetings(now_, now_, 1, 1, [&](std::size_t i, std::size_t j) {
    if (now_[i].sets != now_[j].sets) return touch(i, j);
    const std::uint32_t a = first_of(i), b = first_of(j);
    piece[std::max(a, b)] = std::min(a, b);
  });
  for (std::size_t i = 0; i < piece_.size(); ++i) piece[i] = piece[piece[i]];  // one step: what lies before is done
}

// A piece takes the node of what it shares pixels with in the layer above, or a fresh one.
void DetailForest::find_nodes() {
  touching_above_.clear();
  meetings(above_, now_, 0, 0, [&](std::size_t i, std::size_t j) {
    if (above_[i].sets != now_[j].sets) {
      touching_above_.push_back({static_cast<std::uint32_t>(i), static_cast<std::uint32_t>(j)});
      return;
    }
    std::uint32_t& node = now_[piece_[j]].node;
    const std::uint32_t above = find(above_[i].node);
    if (node != above) node = node == no_node ? above : join(node, above);
  });
  for (std::size_t i = 0; i < now_.size(); ++i) {
    std::uint32_t& node = now_[i].node;
    if (piece_[i] != i)
      node = now_[piece_[i]].node;
    else
      node = node == no_node ? fresh(now_[i].sets) : find(node);
  }
  for (const Touch& touch : touching_) link(now_[touch.a].node, now_[touch.b].node);
  for (const Touch& touch : touching_above_) link(above_[touch.a].node, now_[touch.b].node);
}

void DetailForest::finish_layer(const LayerFacts& layer, const JudgedRuns& judged, const std::vector<ThinPlace>& thin) {
  find_pieces();
  find_nodes();
  auto place = thin.begin();
  for (const Stretch& stretch : now_) {
    DetailSum& into = clumps_[slot_[stretch.node]].sum;
    add_stretch(layer, judged, stretch, into);
    while (place != thin.end() && place_of(place->row, place->col) < place_of(stretch.row, stretch.begin)) ++place;
    for (; place != thin.end() && place_of(place->row, place->col) < place_of(stretch.row, stretch.end); ++place) {
      if (place->width_mm < into.width_mm) {
        into.width_mm = place->width_mm;
        into.flat = false;
      }
    }
  }
}

}  // namespace hairline::risk
