#include "detail_forest.hpp"

#include <algorithm>
#include <numeric>
#include <utility>

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

void unite(std::vector<std::uint32_t>& into, const std::vector<std::uint32_t>& from) {
  if (from.empty()) return;
  std::vector<std::uint32_t> all;
  all.reserve(into.size() + from.size());
  std::set_union(into.begin(), into.end(), from.begin(), from.end(), std::back_inserter(all));
  into = std::move(all);
}

// A free place among `all`, or a new one.
template <class List>
std::uint32_t free_place(std::vector<std::uint32_t>& free, List& all) {
  if (free.empty()) {
    all.emplace_back();
    return static_cast<std::uint32_t>(all.size() - 1);
  }
  const std::uint32_t at = free.back();
  free.pop_back();
  return at;
}

void add_stretch(const LayerFacts& layer, const JudgedRuns& judged, const Stretch& stretch, DetailSum& into) {
  const std::uint64_t voxels = stretch.end - stretch.begin;
  into.voxels += voxels;
  into.volume_mm3 += static_cast<double>(voxels) * layer.voxel_mm3;
  into.box = hairline::join(into.box, {stretch.begin, stretch.row, stretch.end, stretch.row + 1});
  into.from_layer = layer.number;
  if (into.to_layer == 0) into.to_layer = layer.number;
  for (std::size_t i = stretch.first_run; i < stretch.end_run; ++i) {
    into.bins.add(judged.bins[i]);
    into.flipped += judged.flipped[i];
    const float height_mm = judged.runs[i].height_mm;
    if (height_mm > 0 && height_mm < into.width_mm) {
      into.width_mm = height_mm;
      into.flat = true;
    }
  }
}

}  // namespace

void note(std::vector<std::uint32_t>& sorted, std::uint32_t number) {
  const auto at = std::lower_bound(sorted.begin(), sorted.end(), number);
  if (at == sorted.end() || *at != number) sorted.insert(at, number);
}

std::uint32_t DetailForest::find(std::uint32_t node) {
  while (parent_[node] != node) {
    parent_[node] = parent_[parent_[node]];
    node = parent_[node];
  }
  return node;
}

std::uint32_t DetailForest::fresh() {
  const std::uint32_t node = free_place(free_nodes_, parent_), slot = free_place(free_slots_, open_);
  slot_.resize(parent_.size());
  parent_[node] = node;
  slot_[node] = slot;
  nodes_.push_back(node);
  return node;
}

std::uint32_t DetailForest::join(std::uint32_t a, std::uint32_t b) {
  a = find(a), b = find(b);
  if (a == b) return a;
  DetailSum& into = open_[slot_[a]];
  DetailSum& from = open_[slot_[b]];
  into.voxels += from.voxels;
  into.flipped += from.flipped;
  into.volume_mm3 += from.volume_mm3;
  into.box = hairline::join(into.box, from.box);
  into.from_layer = std::min(into.from_layer, from.from_layer);
  into.to_layer = std::max(into.to_layer, from.to_layer);
  if (from.width_mm < into.width_mm) {
    into.width_mm = from.width_mm;
    into.flat = from.flat;
  }
  into.bins.join(std::move(from.bins));
  unite(into.held, from.held);
  unite(into.resting, from.resting);
  unite(into.starts, from.starts);
  forget(b);
  parent_[b] = a;
  return a;
}

void DetailForest::forget(std::uint32_t root) {
  open_[slot_[root]] = {};
  free_slots_.push_back(slot_[root]);
}

// Which stretches of the layer touch: `piece_` names the first of each piece.
void DetailForest::find_pieces() {
  piece_.resize(now_.size());
  std::iota(piece_.begin(), piece_.end(), 0u);
  std::uint32_t* piece = piece_.data();
  const auto first_of = [piece](std::size_t stretch) {
    auto i = static_cast<std::uint32_t>(stretch);
    while (piece[i] != i) i = piece[i] = piece[piece[i]];
    return i;
  };
  meetings(now_, now_, 1, 1, [&](std::size_t i, std::size_t j) {
    const std::uint32_t a = first_of(i), b = first_of(j);
    piece[std::max(a, b)] = std::min(a, b);
  });
  for (std::size_t i = 0; i < piece_.size(); ++i) piece[i] = piece[piece[i]];  // one step: what lies before is done
}

// A piece takes the node of what it shares pixels with in the layer above, or a fresh one.
void DetailForest::find_nodes() {
  meetings(above_, now_, 0, 0, [&](std::size_t i, std::size_t j) {
    std::uint32_t& node = now_[piece_[j]].node;
    const std::uint32_t above = find(above_[i].node);
    if (node != above) node = node == no_node ? above : join(node, above);
  });
  for (std::size_t i = 0; i < now_.size(); ++i) {
    std::uint32_t& node = now_[i].node;
    if (piece_[i] != i)
      node = now_[piece_[i]].node;
    else
      node = node == no_node ? fresh() : find(node);
  }
}

void DetailForest::finish_layer(const LayerFacts& layer, const JudgedRuns& judged, const std::vector<ThinPlace>& thin) {
  find_pieces();
  find_nodes();
  auto place = thin.begin();
  for (const Stretch& stretch : now_) {
    DetailSum& into = open_[slot_[stretch.node]];
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

void DetailForest::forget_untouched(std::uint32_t number) {
  if (number == 0) now_.clear();
  std::erase_if(nodes_, [&](std::uint32_t node) {
    if (parent_[node] == node) {
      if (open_[slot_[node]].from_layer == number) return false;
      forget(node);
    }
    free_nodes_.push_back(node);
    return true;
  });
}

}  // namespace hairline::risk
