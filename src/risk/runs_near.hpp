/// The runs of a small box, copied from the store once for all that is asked of them.
#pragma once
#include <algorithm>
#include <cstdint>
#include <utility>
#include <vector>

#include "run_store.hpp"

namespace hairline::risk {

class RunsNear {
 public:
  /// Copies the runs of a fate that meet the box; the store must outlive it.
  RunsNear(const RunStore& store, Fate fate, const BoxVoxels& box) : fate_(fate), low_(box.from_layer) {
    for (std::uint32_t n = box.from_layer; n <= box.to_layer; ++n) {
      const StoredLayer* layer = store.find(n);
      layers_.push_back({layer, runs_.size()});
      if (layer == nullptr) continue;
      layer->runs(fate).each(box.x0, box.y0, box.x1, box.y1, [&](const RiskRun& run) { add(run); });
    }
    layers_.push_back({nullptr, runs_.size()});
  }

  /// Calls see(layer, run, lot) for those that meet a box inside its own, at one time.
  template <class See>
  void each(std::uint32_t time, const BoxVoxels& box, See see) const {
    for (std::uint32_t n = std::max(box.from_layer, low_); n <= box.to_layer && n - low_ + 1 < layers_.size(); ++n) {
      const auto& [layer, first] = layers_[n - low_];
      const auto end = runs_.begin() + static_cast<std::ptrdiff_t>(layers_[n - low_ + 1].second);
      auto run = std::partition_point(runs_.begin() + static_cast<std::ptrdiff_t>(first), end,
                                      [&](const Run& one) { return static_cast<std::int64_t>(one.row) < box.y0; });
      for (; run != end && static_cast<std::int64_t>(run->row) < box.y1; ++run) {
        if (static_cast<std::int64_t>(run->end) <= box.x0 || static_cast<std::int64_t>(run->begin) >= box.x1) continue;
        const Lot lot = lot_at(fate_, run->lots, time);
        if (lot != Lot::stays) see(*layer, whole(*run), lot);
      }
    }
  }

 private:
  struct Run {
    std::uint32_t row, begin, end;
    float critical_s;
    std::uint32_t like;
    Lots lots;
  };
  void add(const RiskRun& run) {
    if (const Like& like = run; likes_.empty() || likes_.back() != like) likes_.push_back(like);
    runs_.push_back(
        {run.row, run.begin, run.end, run.critical_s, static_cast<std::uint32_t>(likes_.size() - 1), run.lots});
  }
  RiskRun whole(const Run& run) const {
    return {likes_[run.like], run.row, run.begin, run.end, run.critical_s, run.lots};
  }

  Fate fate_;
  std::uint32_t low_;                                               // the first layer
  std::vector<std::pair<const StoredLayer*, std::size_t>> layers_;  // where the runs of each begin; and the end
  std::vector<Run> runs_;
  std::vector<Like> likes_;
};

}  // namespace hairline::risk
