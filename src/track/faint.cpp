#include "faint.hpp"

#include <algorithm>
#include <tuple>
#include <utility>

#include "../base/root_of.hpp"

namespace hairline {
namespace {

constexpr std::uint8_t lit_from = 26;  // a tenth of white: less is no light to speak of
constexpr std::uint64_t most_solid_px = 3;
constexpr std::uint32_t most_wide_px = 3, reach_px = 2, most_missing_layers = 2, least_layers = 5;
constexpr std::size_t most_spots = 400, most_nodes = 50'000;
constexpr std::uint32_t sound = UINT32_MAX;  // node of a run with more solid pixels than a spot has

// Lit columns of a row that touch each other.
struct LitRun {
  std::uint32_t begin, end;
  std::uint64_t solid_px;
  std::uint32_t node;
};

// What hangs together of the runs that are not sound.
struct Node {
  BoxPx box;
  std::uint64_t lit_px = 0, solid_px = 0;
  bool at_sound = false;
};

class Spots {
 public:
  explicit Spots(const Layer& layer) : layer_(layer) {}

  std::vector<FaintSpot> find() {
    for (std::uint32_t row = 0; row < layer_.rows.size(); ++row) {
      const bool same = row > 0 && layer_.rows[row] == layer_.rows[row - 1];
      if (!same) enter(row);
      if (nodes_.size() > most_nodes) return {};
      if (all_sound_) continue;
      for (const LitRun& run : now_)
        if (run.node != sound) add(root(run.node), run, row);
    }
    std::vector<FaintSpot> spots;
    for (std::uint32_t i = 0; i < nodes_.size(); ++i)
      if (root(i) == i && is_spot(nodes_[i])) spots.push_back({nodes_[i].box, nodes_[i].solid_px == 0});
    if (spots.size() > most_spots) spots.clear();
    return spots;
  }

 private:
  static bool is_spot(const Node& node) {
    const std::uint32_t length = std::max(node.box.x1 - node.box.x0, node.box.y1 - node.box.y0);
    return !node.at_sound && node.solid_px <= most_solid_px && node.lit_px <= std::uint64_t{most_wide_px} * length;
  }

  std::uint32_t root(std::uint32_t node) { return root_of(parents_, node); }

  void add(std::uint32_t node, const LitRun& run, std::uint32_t row) {
    nodes_[node].box = join(nodes_[node].box, {run.begin, row, run.end, row + 1});
    nodes_[node].lit_px += run.end - run.begin;
    nodes_[node].solid_px += run.solid_px;
  }

  // Calls see(run) for each lit run of a row, its node not yet set, until that says no. Says whether all were seen.
  bool each_lit(std::uint32_t row, auto see) const {
    LitRun lit{};
    for (const Run& run : layer_.row(row)) {
      if (run.value < lit_from) continue;
      if (lit.end < run.begin || lit.end == 0) {
        if (lit.end > 0 && !see(lit)) return false;
        lit = {run.begin, run.begin, 0, sound};
      }
      lit.end = run.end;
      if (run.value >= solid_from) lit.solid_px += run.end - run.begin;
    }
    return lit.end == 0 || see(lit);
  }

  // Goes on to a row that is not like the one above. Rows of nothing but sound runs are listed only beside others.
  void enter(std::uint32_t row) {
    const bool above_sound =
        std::exchange(all_sound_, each_lit(row, [](const LitRun& run) { return run.solid_px > most_solid_px; }));
    const std::uint32_t above = std::exchange(row_, row);
    if (all_sound_ && above_sound) return;
    before_.swap(now_);
    if (above_sound) list(above, before_);
    list(row, now_);
    tie_to_above();
  }

  void list(std::uint32_t row, std::vector<LitRun>& runs) const {
    runs.clear();
    if (row < layer_.rows.size())
      each_lit(row, [&runs](const LitRun& run) {
        runs.push_back(run);
        return true;
      });
  }

  void tie_to_above() {
    auto above = before_.begin();
    for (LitRun& run : now_) {
      run.node = run.solid_px > most_solid_px ? sound : make();
      while (above != before_.end() && above->end < run.begin) ++above;
      for (auto one = above; one != before_.end() && one->begin <= run.end; ++one) tie(run.node, one->node);
    }
  }

  std::uint32_t make() {
    nodes_.emplace_back();
    parents_.push_back(static_cast<std::uint32_t>(parents_.size()));
    return parents_.back();
  }

  void tie(std::uint32_t a, std::uint32_t b) {
    if (a == sound && b == sound) return;
    if (a == sound || b == sound) {
      nodes_[root(std::min(a, b))].at_sound = true;
      return;
    }
    const std::uint32_t first = std::min(root(a), root(b)), second = std::max(root(a), root(b));
    if (first == second) return;
    parents_[second] = first;
    Node &kept = nodes_[first], &gone = nodes_[second];
    kept.box = join(kept.box, gone.box);
    kept.lit_px += gone.lit_px, kept.solid_px += gone.solid_px;
    kept.at_sound = kept.at_sound || gone.at_sound;
  }

  const Layer& layer_;
  std::uint32_t row_ = UINT32_MAX;  // the last one that was entered
  bool all_sound_ = true;           // it has only sound runs
  std::vector<LitRun> before_, now_;
  std::vector<Node> nodes_;
  std::vector<std::uint32_t> parents_;
};

bool near(const BoxPx& a, const BoxPx& b) {
  return a.x0 < b.x1 + reach_px && b.x0 < a.x1 + reach_px && a.y0 < b.y1 + reach_px && b.y0 < a.y1 + reach_px;
}

}  // namespace

std::vector<FaintSpot> find_faint_spots(const Layer& layer) {
  return Spots(layer).find();
}

void FaintTracker::close(const Open& open) {
  const FaintChain& chain = open.chain;
  const std::uint32_t layers = chain.to_layer - chain.from_layer + 1;
  if (layers >= least_layers && 4 * chain.bare_layers >= layers) found_.push_back(chain);
}

void FaintTracker::add(std::uint32_t number, const std::vector<FaintSpot>& spots) {
  const auto ended = std::partition(open_.begin(), open_.end(), [&](const Open& one) {
    return one.chain.from_layer <= number + 1 + most_missing_layers;
  });
  std::for_each(ended, open_.end(), [&](const Open& one) { close(one); });
  open_.erase(ended, open_.end());
  const std::size_t before = open_.size();
  for (const FaintSpot& spot : spots) {
    const auto last = open_.begin() + static_cast<std::ptrdiff_t>(before);
    const auto above = std::find_if(open_.begin(), last, [&](const Open& one) { return near(one.last, spot.box); });
    if (above == last) {
      open_.push_back({{number, number, spot.bare, spot.box}, spot.box});
      continue;
    }
    const bool first_here = above->chain.from_layer != number;
    above->chain.bare_layers += first_here && spot.bare;
    above->last = first_here ? spot.box : join(above->last, spot.box);
    above->chain.from_layer = number;
    above->chain.box = join(above->chain.box, spot.box);
  }
}

std::vector<FaintChain> FaintTracker::finish() {
  for (const Open& one : open_) close(one);
  open_.clear();
  std::sort(found_.begin(), found_.end(), [](const FaintChain& a, const FaintChain& b) {
    const auto order = [](const FaintChain& one) {
      return std::tuple{one.from_layer, one.box.y0, one.box.x0, one.to_layer, one.box.y1, one.box.x1};
    };
    return order(a) < order(b);
  });
  return std::move(found_);
}

}  // namespace hairline
