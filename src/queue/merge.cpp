// The shares of a queue, put together again.
#include <fmt/format.h>

#include <algorithm>

#include "hairline/night.hpp"

namespace hairline {
namespace {

Error other(std::string found, std::string expected, std::string advice) {
  return {ErrorKind::mismatch, "", std::move(found), std::move(expected), std::move(advice)};
}

// All that shares of one queue have in common, as text.
std::string asked_for(const CheckedQueue& night) {
  return to_json(CheckedQueue{.times = night.times, .printers = night.printers, .jobs_in_all = night.jobs_in_all});
}

Result<void> check_shares(const std::vector<CheckedQueue>& shards) {
  if (shards.empty()) return tl::unexpected(other("there is no share", "all shares of a queue", "Name their folders."));
  for (const CheckedQueue& night : shards) {
    if (!night.shard)
      return tl::unexpected(other("a whole queue stands among the shares", "shares only", "Leave it out."));
    if (night.shard->of != shards.front().shard->of || asked_for(night) != asked_for(shards.front()))
      return tl::unexpected(
          other(fmt::format("share {} of {} is of another queue than share {} of {}", night.shard->part,
                            night.shard->of, shards.front().shard->part, shards.front().shard->of),
                "shares of one queue, run with the same paths, printers and times",
                "Merge each queue by itself, or run the odd share again."));
  }
  return {};
}

// Each once; the same share found twice is no harm where it says the same.
Result<void> keep_one_of_each(std::vector<CheckedQueue>& shards) {
  const auto part = [](const CheckedQueue& night) { return night.shard->part; };
  std::stable_sort(shards.begin(), shards.end(), [&](const auto& a, const auto& b) { return part(a) < part(b); });
  std::vector<CheckedQueue> kept;
  for (CheckedQueue& night : shards) {
    if (kept.empty() || part(kept.back()) != part(night))
      kept.push_back(std::move(night));
    else if (to_json(kept.back()) != to_json(night))
      return tl::unexpected(other(fmt::format("share {} is there twice, with other results", part(night)),
                                  "each share once", "Remove the older one."));
  }
  shards = std::move(kept);
  return {};
}

Result<void> check_complete(const std::vector<CheckedQueue>& shards, const std::vector<QueueEntry>& entries) {
  const std::uint32_t of = shards.front().shard->of;
  std::vector<bool> there(of + 1, false);
  for (const CheckedQueue& night : shards) there[night.shard->part] = true;
  std::string missing;
  for (std::uint32_t part = 1; part <= of; ++part)
    if (!there[part]) missing += fmt::format("{}{}", missing.empty() ? "" : ", ", part);
  if (!missing.empty())
    return tl::unexpected(other(fmt::format("of {} shares these are missing: {}", of, missing), "all of them",
                                "Run them with --shard, or name the folders they are in."));
  for (std::size_t i = 0; i < entries.size(); ++i)
    if (entries[i].place != i + 1)
      return tl::unexpected(other(
          fmt::format("job {} of the queue is in {}", i + 1, entries[i].place > i + 1 ? "no share" : "two shares"),
          "each job in one share", "Run all shares again; a job changed between them."));
  if (entries.size() == shards.front().jobs_in_all) return {};
  return tl::unexpected(other(fmt::format("the shares hold {} jobs of {}", entries.size(), shards.front().jobs_in_all),
                              "each job in one share", "Run all shares again; a job changed between them."));
}

}  // namespace

Result<CheckedQueue> merge_shards(std::vector<CheckedQueue> shards) {
  if (auto same = check_shares(shards); !same) return tl::unexpected(same.error());
  if (auto kept = keep_one_of_each(shards); !kept) return tl::unexpected(kept.error());
  CheckedQueue night{
      .times = shards.front().times, .printers = shards.front().printers, .jobs_in_all = shards.front().jobs_in_all};
  for (CheckedQueue& shard : shards)
    std::move(shard.entries.begin(), shard.entries.end(), std::back_inserter(night.entries));
  std::stable_sort(night.entries.begin(), night.entries.end(),
                   [](const QueueEntry& a, const QueueEntry& b) { return a.place < b.place; });
  if (auto whole = check_complete(shards, night.entries); !whole) return tl::unexpected(whole.error());
  auto plan = plan_night(night.times, night.printers, night.entries);
  if (!plan) return tl::unexpected(plan.error());
  night.plan = std::move(*plan);
  return night;
}

}  // namespace hairline
