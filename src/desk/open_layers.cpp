#include "open_layers.hpp"

#include <algorithm>

#include "asks.hpp"

namespace hairline::desk {
namespace {

constexpr std::size_t most_open = 2, most_seen = 8;
constexpr std::uint64_t most_seen_bytes = 64u << 20;

}  // namespace

Result<std::shared_ptr<OpenLayers>> OpenLayers::open(const Folder& folder, const std::string& job) {
  const auto path = folder.job(job);
  if (!path) return tl::unexpected(path.error());
  auto archive = Archive::open(*path, open_options_for(folder, job));
  if (!archive) return tl::unexpected(std::move(archive.error()));
  std::shared_ptr<OpenLayers> layers(new OpenLayers(std::move(*archive)));
  layers->take_check(folder, job);
  return layers;
}

// A check of which something cannot be read counts as none.
void OpenLayers::take_check(const Folder& folder, const std::string& job) {
  auto check = last_check(folder, job);
  const auto cache = folder.own("cache");
  if (!check || check->looks.empty() || !cache) return;
  auto flips = Flips::open(*cache / (check->looks + ".flips"));
  if (!flips || flips->head().times_s.empty()) return;
  const JobSettings& settings = archive_.settings();
  kept_ = Kept::changed;
  if (check->job_mark != mark_of_job(folder, job) || flips->head().size != settings.size ||
      flips->head().layer_count != settings.layer_count)
    return;
  kept_ = Kept::all;
  head_ = flips->head();
  flips_ = std::move(*flips);
  check_ = std::move(*check);
}

Result<SeenLayer> OpenLayers::read(std::uint32_t number) const {
  auto layer = archive_.read_layer(number);
  if (!layer) return tl::unexpected(std::move(layer.error()));
  SeenLayer seen{solid(*layer), {}};
  if (!flips_) return seen;
  auto flips = flips_->layer(number);
  if (!flips) return tl::unexpected(std::move(flips.error()));
  seen.flips = std::move(*flips);
  return seen;
}

Result<std::shared_ptr<const SeenLayer>> OpenLayers::layer(std::uint32_t number) {
  const std::lock_guard lock(mutex_);
  const auto known = std::find_if(seen_.begin(), seen_.end(), [&](const auto& one) { return one.first == number; });
  if (known != seen_.end()) {
    seen_.splice(seen_.begin(), seen_, known);
    return seen_.front().second;
  }
  auto layer = read(number);
  if (!layer) return tl::unexpected(std::move(layer.error()));
  seen_.emplace_front(number, std::make_shared<const SeenLayer>(std::move(*layer)));
  const auto bytes = [&] {
    std::uint64_t all = 0;
    for (const auto& [_, one] : seen_) all += one->bytes();
    return all;
  };
  while (seen_.size() > most_seen || (seen_.size() > 1 && bytes() > most_seen_bytes)) seen_.pop_back();
  return seen_.front().second;
}

Result<std::shared_ptr<OpenLayers>> OpenJobs::find(const std::string& job) {
  if (const auto path = folder_.job(job); !path) return tl::unexpected(path.error());
  const auto check = last_check(folder_, job);
  const std::string mark = mark_of_job(folder_, job) + (check ? check->id : "");
  const std::lock_guard lock(mutex_);
  const auto known = std::find_if(open_.begin(), open_.end(), [&](const One& one) { return one.job == job; });
  if (known != open_.end() && known->mark == mark) {
    open_.splice(open_.begin(), open_, known);
    return open_.front().layers;
  }
  if (known != open_.end()) open_.erase(known);
  auto layers = OpenLayers::open(folder_, job);
  if (!layers) return layers;
  open_.push_front({job, mark, std::move(*layers)});
  if (open_.size() > most_open) open_.pop_back();
  return open_.front().layers;
}

void OpenJobs::forget(const std::string& job) {
  const std::lock_guard lock(mutex_);
  open_.remove_if([&](const One& one) { return one.job == job; });
}

}  // namespace hairline::desk
