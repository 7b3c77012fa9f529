#include "open_layers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "hairline/foreign.hpp"

namespace hairline::desk {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t most_open = 2, most_findings = 500, most_seen = 8;
constexpr std::uint64_t most_seen_bytes = 64u << 20;

// Another text once the file, or a folder's list of files, has changed.
std::string mark_of(const fs::path& path) {
  std::error_code error;
  const auto written = fs::last_write_time(path, error).time_since_epoch().count();
  const auto bytes = fs::is_regular_file(path, error) ? fs::file_size(path, error) : 0;
  return fmt::format("{} {}\n", written, bytes);
}

fs::path in_desk(const Folder& folder, const char* part, const std::string& name) {
  return folder.root() / "desk" / part / name;
}

// Names in desk/cache, by what is kept of the last check; empty where there is none.
struct KeptCheck {
  std::string looks, id;
};
KeptCheck kept_check(const Folder& folder, const std::string& job) {
  const auto is_key = [](const std::string& text) {
    return text.size() == 32 && text.find_first_not_of("0123456789abcdef") == std::string::npos;
  };
  const auto text = read_text(in_desk(folder, "checks", job + ".json"), 1u << 20);
  if (!text) return {};
  const auto json = nlohmann::json::parse(*text, nullptr, false);
  if (!json.is_object()) return {};
  const auto key = [&](const char* name) {
    const auto found = json.find(name);
    const std::string value = found != json.end() && found->is_string() ? found->get<std::string>() : "";
    return is_key(value) ? value : "";
  };
  return {key("looks"), key("id")};
}

}  // namespace

Result<std::shared_ptr<OpenLayers>> OpenLayers::open(const Folder& folder, const std::string& job) {
  const auto path = folder.job(job);
  if (!path) return tl::unexpected(path.error());
  OpenOptions options;
  options.known = read_descriptions(user_descriptions()).value_or(std::vector<ArchiveDescription>());
  auto archive = Archive::open(*path, options);
  if (!archive) return tl::unexpected(std::move(archive.error()));
  std::shared_ptr<OpenLayers> layers(new OpenLayers(std::move(*archive)));
  layers->take_check(folder, job);
  return layers;
}

// A check of which something cannot be read counts as none.
void OpenLayers::take_check(const Folder& folder, const std::string& job) {
  const KeptCheck check = kept_check(folder, job);
  if (check.looks.empty()) return;
  const fs::path file = in_desk(folder, "cache", check.looks + ".flips");
  auto flips = Flips::open(file);
  auto report = read_report(in_desk(folder, "cache", check.id + ".report.json"));
  if (!flips || !report || flips->head().times_s.empty()) return;
  const JobSettings& settings = archive_.settings();
  std::error_code error;
  const bool newer = fs::last_write_time(archive_.path(), error) > fs::last_write_time(file, error);
  kept_ = Kept::changed;
  if (newer || flips->head().size != settings.size || flips->head().layer_count != settings.layer_count) return;
  kept_ = Kept::all;
  head_ = flips->head();
  flips_ = std::move(*flips);
  std::copy_if(report->details.begin(), report->details.end(), std::back_inserter(findings_),
               [](const Detail& detail) { return detail.lost; });
  findings_.resize(std::min(findings_.size(), most_findings));
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
  const auto path = folder_.job(job);
  if (!path) return tl::unexpected(path.error());
  const std::string mark = mark_of(*path) + mark_of(in_desk(folder_, "checks", job + ".json")) +
                           mark_of(in_desk(folder_, "descriptions", job + ".json"));
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
