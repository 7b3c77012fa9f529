#include "detail_forest.hpp"

#include <algorithm>
#include <numeric>
#include <utility>

namespace hairline::risk {
namespace {

constexpr std::uint32_t no_node = UINT32_MAX;

// Calls meet(i, j) for stretches i of `a` and j of `b` that lie `rows_apart` rows apart (b below a) and touch within
// `slack` columns.
template <class Meet>
void meetings(const std::vector<Stretch>& a, const std::vector<Stretch>& b, std::uint32_t rows_apart,
              std::uint32_t slack, Meet meet) {
  std::size_t j = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    const std::uint32_t row = a[i].row + rows_apart;
    while (j < b.size() && (b[j].row < row || (b[j].row == row && b[j].end + slack <= a[i].begin))) ++j;
    for (std::size_t k = j; k < b.size() && b[k].row == row && b[k].begin < a[i].end + slack; ++k) meet(i, k);
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
std::uint32_t take(std::vector<std::uint32_t>& free, List& all) {
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
    if (judged.sets[i] & flipped) into.flipped += judged.bins[i].voxels;
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
  const std::uint32_t node = take(free_nodes_, parent_), slot = take(free_slots_, open_);
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

// Stretches of the runs that are of the set.
void DetailForest::gather(const JudgedRuns& judged) {
  now_.clear();
  for (std::uint32_t i = 0; i < judged.runs.size(); ++i) {
    if ((judged.sets[i] & set_) == 0) continue;
    const CriticalRun& run = judged.runs[i];
    if (!now_.empty() && now_.back().end_run == i && now_.back().row == run.row && now_.back().end == run.begin) {
      now_.back().end = run.end;
      now_.back().end_run = i + 1;
    } else {
      now_.push_back({run.row, run.begin, run.end, i, i + 1, no_node});
    }
  }
}

// Nodes of the stretches: those that touch first form pieces; a piece takes the node of what it shares pixels with in
// the layer above, or a fresh one.
void DetailForest::label() {
  piece_.resize(now_.size());
  std::iota(piece_.begin(), piece_.end(), 0u);
  const auto first_of = [&](std::size_t stretch) {
    auto i = static_cast<std::uint32_t>(stretch);
    while (piece_[i] != i) i = piece_[i] = piece_[piece_[i]];
    return i;
  };
  meetings(now_, now_, 1, 1, [&](std::size_t i, std::size_t j) {
    const std::uint32_t a = first_of(i), b = first_of(j);
    piece_[std::max(a, b)] = std::min(a, b);
  });
  meetings(above_, now_, 0, 0, [&](std::size_t i, std::size_t j) {
    std::uint32_t& node = now_[first_of(j)].node;
    node = node == no_node ? find(above_[i].node) : join(node, above_[i].node);
  });
  for (std::size_t i = 0; i < now_.size(); ++i) {
    std::uint32_t& node = now_[first_of(i)].node;
    if (node == no_node) node = fresh();
    now_[i].node = node;
  }
}

void DetailForest::add(const LayerFacts& layer, const JudgedRuns& judged, const std::vector<ThinPlace>& thin) {
  std::swap(now_, above_);
  gather(judged);
  label();
  std::size_t place = 0;
  for (Stretch& stretch : now_) {
    stretch.node = find(stretch.node);
    DetailSum& into = open_[slot_[stretch.node]];
    add_stretch(layer, judged, stretch, into);
    const auto before = [&](const ThinPlace& at) {
      return at.row < stretch.row || (at.row == stretch.row && at.col < stretch.begin);
    };
    while (place < thin.size() && before(thin[place])) ++place;
    for (; place < thin.size() && thin[place].row == stretch.row && thin[place].col < stretch.end; ++place) {
      if (thin[place].width_mm < into.width_mm) {
        into.width_mm = thin[place].width_mm;
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
