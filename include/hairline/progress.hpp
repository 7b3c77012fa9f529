/// One object for progress and cancel, passed into every long call; safe to use from any thread.
#pragma once
#include <atomic>
#include <cstdint>

namespace hairline {

class Progress {
 public:
  Progress() = default;
  /// Of a part: what is done counts for `whole` too, and cancelling that cancels this. `whole` must outlive it.
  explicit Progress(Progress& whole) : whole_(&whole) {}

  /// Begun again, a part takes back what it counted for the whole.
  void start(std::uint32_t total) { advance(0 - done()), total_.store(total); }
  /// More to do than was said at the start.
  void expect(std::uint32_t count) { total_.fetch_add(count); }
  void advance(std::uint32_t count = 1) {
    done_.fetch_add(count);
    if (whole_ != nullptr) whole_->advance(count);
  }
  /// Sticky: once cancelled, the running call returns ErrorKind::cancelled at its next layer.
  void cancel() { cancelled_.store(true); }
  bool cancelled() const {
    return cancelled_.load(std::memory_order_relaxed) || (whole_ != nullptr && whole_->cancelled());
  }
  std::uint32_t done() const { return done_.load(); }    ///< layers finished
  std::uint32_t total() const { return total_.load(); }  ///< layers in all; 0 before the start

 private:
  std::atomic<std::uint32_t> done_{0}, total_{0};
  std::atomic<bool> cancelled_{false};
  Progress* whole_ = nullptr;
};

}  // namespace hairline
