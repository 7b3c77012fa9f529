#include "detail_forest.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace hairline::risk {
namespace {

// Calls meet(i, j) for runs i of `a` and j of `b` that lie `rows_apart` rows apart (b below a) and touch within `slack`
// columns.
template <class Meet>
void meetings(const std::vector<CriticalRun>& a, const std::vector<CriticalRun>& b, std::uint32_t rows_apart,
              std::uint32_t slack, Meet meet) {
  std::size_t j = 0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    const std::uint32_t row = a[i].row + rows_apart;
    while (j < b.size() && (b[j].row < row || (b[j].row == row && b[j].end + slack <= a[i].begin))) ++j;
    for (std::size_t k = j; k < b.size() && b[k].row == row && b[k].begin < a[i].end + slack; ++k) meet(i, k);
  }
}

}  // namespace

std::uint32_t DetailForest::find(std::uint32_t node) {
  while (parent_[node] != node) {
    parent_[node] = parent_[parent_[node]];
    node = parent_[node];
  }
  return node;
}

std::uint32_t DetailForest::fresh() {
  const auto node = static_cast<std::uint32_t>(parent_.size());
  parent_.push_back(node);
  std::uint32_t slot = 0;
  if (free_slots_.empty()) {
    slot = static_cast<std::uint32_t>(open_.size());
    open_.emplace_back();
  } else {
    slot = free_slots_.back();
    free_slots_.pop_back();
    open_[slot] = {};
  }
  open_[slot].width_mm = std::numeric_limits<float>::infinity();
  slot_.push_back(slot);
  open_nodes_.push_back(node);
  return node;
}

std::uint32_t DetailForest::join(std::uint32_t a, std::uint32_t b) {
  a = find(a), b = find(b);
  if (a == b) return a;
  if (b < a) std::swap(a, b);  // the older node stays, so the result does not depend on the order of joins
  DetailSum& into = open_[slot_[a]];
  DetailSum& from = open_[slot_[b]];
  into.voxels += from.voxels;
  into.flipped += from.flipped;
  into.volume_mm3 += from.volume_mm3;
  into.box = hairline::join(into.box, from.box);
  into.from_layer = into.from_layer == 0   ? from.from_layer
                    : from.from_layer == 0 ? into.from_layer
                                           : std::min(into.from_layer, from.from_layer);
  into.to_layer = std::max(into.to_layer, from.to_layer);
  if (from.width_mm < into.width_mm) {
    into.width_mm = from.width_mm;
    into.flat = from.flat;
  }
  into.bins.join(std::move(from.bins));
  std::vector<std::uint32_t> bodies;
  std::set_union(into.bodies.begin(), into.bodies.end(), from.bodies.begin(), from.bodies.end(),
                 std::back_inserter(bodies));
  into.bodies = std::move(bodies);
  free_slots_.push_back(slot_[b]);
  from = {};
  parent_[b] = a;
  return a;
}

// Nodes of the runs: touching runs first form pieces; a piece takes the node of what it shares pixels with in the layer
// above, or a fresh one.
void DetailForest::label(const JudgedRuns& now, const JudgedRuns& above) {
  const auto& runs = now.runs;
  const auto has = [this](const JudgedRuns& judged, std::size_t i) { return (judged.sets[i] & set_) != 0; };
  piece_.resize(runs.size());
  std::iota(piece_.begin(), piece_.end(), 0u);
  const auto first_of = [&](std::size_t run) {
    auto i = static_cast<std::uint32_t>(run);
    while (piece_[i] != i) i = piece_[i] = piece_[piece_[i]];
    return i;
  };
  const auto touch = [&](std::size_t i, std::size_t j) {
    if (!has(now, i) || !has(now, j)) return;
    const std::uint32_t a = first_of(i), b = first_of(j);
    piece_[std::max(a, b)] = std::min(a, b);
  };
  for (std::size_t i = 1; i < runs.size(); ++i) {
    if (runs[i - 1].row == runs[i].row && runs[i - 1].end == runs[i].begin) touch(i - 1, i);
  }
  meetings(runs, runs, 1, 1, touch);

  node_.assign(runs.size(), no_node);
  meetings(above.runs, runs, 0, 0, [&](std::size_t i, std::size_t j) {
    if (above_node_[i] == no_node || !has(now, j)) return;
    std::uint32_t& node = node_[first_of(j)];
    node = node == no_node ? find(above_node_[i]) : join(node, above_node_[i]);
  });
  for (std::size_t i = 0; i < runs.size(); ++i) {
    if (!has(now, i)) continue;
    std::uint32_t& node = node_[first_of(i)];
    if (node == no_node) node = fresh();
    node_[i] = node;
  }
}

void DetailForest::add_run(const LayerFacts& layer, const CriticalRun& run, double log_critical,
                           DetailSum& into) const {
  const std::uint64_t voxels = run.end - run.begin;
  const auto n = static_cast<double>(voxels);
  into.voxels += voxels;
  into.volume_mm3 += n * layer.voxel_mm3;
  if (fate_ == Fate::vanish ? run.critical_s > layer.exposure_s : run.critical_s <= layer.exposure_s)
    into.flipped += voxels;
  into.box = hairline::join(into.box, {run.begin, run.row, run.end, run.row + 1});
  into.from_layer = layer.number;
  if (into.to_layer == 0) into.to_layer = layer.number;
  if (run.height_mm > 0 && run.height_mm < into.width_mm) {
    into.width_mm = run.height_mm;
    into.flat = true;
  }
  into.bins.add({bin_of(log_critical), voxels, n * log_critical, n * static_cast<double>(run.blur_slope),
                 n * (static_cast<double>(run.depth_slope) + layer.height_slope)});
}

void DetailForest::close_untouched(std::uint32_t number, std::vector<ClosedDetail>& closed) {
  std::erase_if(open_nodes_, [&](std::uint32_t node) {
    if (parent_[node] != node) return true;
    DetailSum& sum = open_[slot_[node]];
    if (sum.from_layer == number) return false;
    closed.push_back({node, std::move(sum)});
    sum = {};
    free_slots_.push_back(slot_[node]);
    return true;
  });
}

void DetailForest::add(const LayerFacts& layer, const JudgedRuns& now, const JudgedRuns& above,
                       const std::vector<ThinPlace>& thin, std::vector<ClosedDetail>& closed) {
  std::swap(node_, above_node_);
  label(now, above);
  std::size_t place = 0;
  for (std::size_t i = 0; i < now.runs.size(); ++i) {
    if (node_[i] == no_node) continue;
    node_[i] = find(node_[i]);
    DetailSum& into = open_[slot_[node_[i]]];
    const CriticalRun& run = now.runs[i];
    add_run(layer, run, now.log_critical[i], into);
    while (place < thin.size() &&
           (thin[place].row < run.row || (thin[place].row == run.row && thin[place].col < run.begin))) {
      ++place;
    }
    for (; place < thin.size() && thin[place].row == run.row && thin[place].col < run.end; ++place) {
      if (thin[place].width_mm < into.width_mm) {
        into.width_mm = thin[place].width_mm;
        into.flat = false;
      }
    }
  }
  close_untouched(layer.number, closed);
}

void DetailForest::finish(std::vector<ClosedDetail>& closed) {
  node_.clear();
  close_untouched(0, closed);
}

void DetailForest::touch_body(std::uint32_t node, std::uint32_t body) {
  auto& bodies = sum(node).bodies;
  const auto at = std::lower_bound(bodies.begin(), bodies.end(), body);
  if (at == bodies.end() || *at != body) bodies.insert(at, body);
}

}  // namespace hairline::risk
