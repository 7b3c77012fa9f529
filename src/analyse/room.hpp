/// How much memory a job may take. Every stage says what it holds, and what a layer will take, before it takes it; what
/// is too much is an error and no surprise (docs/errors.md, "Memory").
#pragma once
#include <algorithm>
#include <atomic>

#include "hairline/layer.hpp"
#include "hairline/result.hpp"

namespace hairline {

/// Memory that a layer takes while it is measured, at most: runs, pieces, and the walls and gaps of both directions.
std::uint64_t layer_bytes(const Layer& layer, const Mask& solid);

/// Stages on several threads share it. With one layer in flight what it answers depends on the job alone.
class Room {
 public:
  /// `memory_bytes`: AnalyseSettings::memory_bytes; `size`: of the masks.
  Room(std::uint64_t memory_bytes, Size size);

  /// Says how many layers are on their way at once, before the first; nothing is held then.
  void start(std::size_t in_flight);
  /// Is there room for a layer of so many bytes, as often as layers are in flight, beside what is held? Fails with
  /// limit.
  Result<void> take_layer(std::uint32_t layer, std::uint64_t bytes);
  /// What the joining stage, or the judging stage, may hold at most.
  std::uint64_t for_joining() const { return rest(judging_); }
  std::uint64_t for_judging() const { return rest(joining_); }
  /// Says what it holds now, or would. Fails with limit where that is more, or more than it was told before its work
  /// (`most`): it has stopped then, whatever has become free meanwhile.
  Result<void> hold_joining(std::uint32_t layer, std::uint64_t bytes, std::uint64_t most = UINT64_MAX) {
    return hold(joining_, judging_, layer, bytes, most);
  }
  Result<void> hold_judging(std::uint32_t layer, std::uint64_t bytes, std::uint64_t most = UINT64_MAX) {
    return hold(judging_, joining_, layer, bytes, most);
  }
  /// Has there been too little?
  bool exceeded() const { return exceeded_; }

 private:
  std::uint64_t rest(const std::atomic<std::uint64_t>& held) const { return most_ - std::min(most_, held.load()); }
  Result<void> hold(std::atomic<std::uint64_t>& own, const std::atomic<std::uint64_t>& other, std::uint32_t layer,
                    std::uint64_t bytes, std::uint64_t most);
  Result<void> fits(std::uint32_t layer, std::uint64_t bytes);

  bool asked_;             // for, by a person
  std::uint64_t allowed_;  // of the whole program
  std::uint64_t most_;     // of what is counted here
  std::size_t in_flight_ = 1;
  std::atomic<std::uint64_t> joining_{0}, judging_{0};
  std::atomic<bool> exceeded_{false};
};

}  // namespace hairline
