/// Large working memory, kept from one use to the next whatever threads ask for it: as many pieces as were ever in use
/// at once. What is kept for each thread instead would stay as long as the thread does.
#pragma once
#include <cstddef>
#include <memory>
#include <mutex>
#include <vector>

namespace hairline {

template <class T>
class Spares {
  struct GiveBack {
    Spares* to;
    void operator()(T* one) const {
      const std::lock_guard lock(to->mutex_);
      to->free_.emplace_back(one);
    }
  };

 public:
  using Lent = std::unique_ptr<T, GiveBack>;

  /// As its last user left it.
  Lent lend() {
    const std::lock_guard lock(mutex_);
    if (free_.empty()) {
      free_.reserve(++made_);  // so that giving back never fails
      free_.push_back(std::make_unique<T>());
    }
    Lent lent(free_.back().release(), GiveBack{this});
    free_.pop_back();
    return lent;
  }

 private:
  std::mutex mutex_;
  std::vector<std::unique_ptr<T>> free_;
  std::size_t made_ = 0;
};

}  // namespace hairline
