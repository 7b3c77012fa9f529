/// Layers worked on several at once and joined in order: the threads behind the one page (analyse.cpp).
#pragma once
#include <oneapi/tbb/parallel_pipeline.h>

#include <atomic>
#include <memory>

#include "hairline/progress.hpp"
#include "hairline/result.hpp"

namespace hairline {

/// For every number from `count` down to 1: `look(number)`, which gives Result<A>, for several numbers at once; then
/// `join(A)`, which gives Result<B>, and `judge(B)`, which gives Result<void>, each in order and one call at a time,
/// though a number may be judged while the next one is joined. No more than `in_flight` numbers are on their way.
/// Fails with the first failure in this order, or with cancelled.
template <class Look, class Join, class Judge>
Result<void> top_down(std::uint32_t count, std::size_t in_flight, Progress& progress, const Look& look,
                      const Join& join, const Judge& judge) {
  using oneapi::tbb::filter_mode, oneapi::tbb::flow_control, oneapi::tbb::make_filter, oneapi::tbb::parallel_pipeline;
  using Seen = std::invoke_result_t<Look, std::uint32_t>;
  using Looked = std::shared_ptr<Seen>;
  using Given = typename std::invoke_result_t<Join, typename Seen::value_type>::value_type;
  using Joined = std::shared_ptr<Given>;  // null after a failure
  std::uint32_t next = count;
  Result<void> joined, judged;  // each written by its own stage only
  std::atomic<bool> stop{false};
  progress.start(count);
  const auto number_next = [&](flow_control& control) -> std::uint32_t {
    if (next > 0 && !stop && !progress.cancelled()) return next--;
    control.stop();
    return 0;
  };
  const auto look_stage = [&](std::uint32_t number) { return std::make_shared<Seen>(look(number)); };
  const auto join_stage = [&](const Looked& at) -> Joined {
    if (!joined) return nullptr;
    auto given = std::move(*at).and_then(join);
    if (given) return std::make_shared<Given>(std::move(*given));
    joined = tl::unexpected(std::move(given.error()));
    stop = true;
    return nullptr;
  };
  const auto judge_stage = [&](const Joined& layer) {
    if (layer == nullptr || !judged) return;
    judged = judge(std::move(*layer));
    if (!judged) stop = true;
    progress.advance();
  };
  parallel_pipeline(in_flight, make_filter<void, std::uint32_t>(filter_mode::serial_in_order, number_next) &
                                   make_filter<std::uint32_t, Looked>(filter_mode::parallel, look_stage) &
                                   make_filter<Looked, Joined>(filter_mode::serial_in_order, join_stage) &
                                   make_filter<Joined, void>(filter_mode::serial_in_order, judge_stage));
  if (!judged || !joined) return judged ? joined : judged;  // what is judged lies higher
  if (progress.cancelled()) return tl::unexpected(Error{ErrorKind::cancelled, "", "the check was stopped"});
  return {};
}

}  // namespace hairline
