/// Layers worked on several at once and joined in order: the threads behind the one page (analyse.cpp).
#pragma once
#include <oneapi/tbb/global_control.h>
#include <oneapi/tbb/info.h>
#include <oneapi/tbb/parallel_pipeline.h>

#include <atomic>
#include <memory>

#include "hairline/progress.hpp"
#include "hairline/result.hpp"

namespace hairline {

/// For every number from `count` down to 1: `look(number)`, which gives Result<A>, for several numbers at once; then
/// `join(A)`, which gives B, and `judge(B)`, each in order and one call at a time, though a number may be judged while
/// the next one is joined. `threads` 0: one per processor. Fails with the first failure of `look` in this order, or
/// with cancelled.
template <class Look, class Join, class Judge>
Result<void> top_down(std::uint32_t count, std::uint32_t threads, Progress& progress, const Look& look,
                      const Join& join, const Judge& judge) {
  namespace tbb = oneapi::tbb;
  using tbb::filter_mode;
  using Seen = std::invoke_result_t<Look, std::uint32_t>;
  using Looked = std::shared_ptr<Seen>;
  using Joined = std::shared_ptr<std::invoke_result_t<Join, typename Seen::value_type>>;  // null after a failure
  if (threads == 0) threads = static_cast<std::uint32_t>(tbb::info::default_concurrency());
  const tbb::global_control limit(tbb::global_control::max_allowed_parallelism, threads);
  std::uint32_t next = count;
  Result<void> done;  // written by the joining stage only
  std::atomic<bool> stop{false};
  progress.start(count);
  const auto number_next = [&](tbb::flow_control& control) -> std::uint32_t {
    if (next > 0 && !stop && !progress.cancelled()) return next--;
    control.stop();
    return 0;
  };
  const auto look_stage = [&](std::uint32_t number) { return std::make_shared<Seen>(look(number)); };
  const auto join_stage = [&](const Looked& at) -> Joined {
    if (!done) return nullptr;
    if (*at) return std::make_shared<typename Joined::element_type>(join(std::move(**at)));
    done = tl::unexpected(at->error());
    stop = true;
    return nullptr;
  };
  const auto judge_stage = [&](const Joined& layer) {
    if (layer == nullptr) return;
    judge(std::move(*layer));
    progress.advance();
  };
  const std::size_t in_flight = threads == 1 ? 1 : threads + std::size_t{1};
  tbb::parallel_pipeline(in_flight, tbb::make_filter<void, std::uint32_t>(filter_mode::serial_in_order, number_next) &
                                        tbb::make_filter<std::uint32_t, Looked>(filter_mode::parallel, look_stage) &
                                        tbb::make_filter<Looked, Joined>(filter_mode::serial_in_order, join_stage) &
                                        tbb::make_filter<Joined, void>(filter_mode::serial_in_order, judge_stage));
  if (done && progress.cancelled())
    return tl::unexpected(Error{ErrorKind::cancelled, "", std::nullopt, "the check was stopped", "", ""});
  return done;
}

}  // namespace hairline
