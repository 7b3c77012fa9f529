/// One object for progress and cancel, passed into every long call; safe to use from any thread.
#pragma once
#include <atomic>
#include <cstdint>

namespace hairline {

class Progress {
 public:
  void start(std::uint32_t total) { total_.store(total), done_.store(0); }
  void advance(std::uint32_t count = 1) { done_.fetch_add(count); }
  /// Sticky: once cancelled, the running call returns ErrorKind::cancelled at its next layer.
  void cancel() { cancelled_.store(true); }
  bool cancelled() const { return cancelled_.load(std::memory_order_relaxed); }
  std::uint32_t done() const { return done_.load(); }    ///< layers finished
  std::uint32_t total() const { return total_.load(); }  ///< layers in all; 0 before the start

 private:
  std::atomic<std::uint32_t> done_{0}, total_{0};
  std::atomic<bool> cancelled_{false};
};

}  // namespace hairline
