#include "night_checks.hpp"

#include <algorithm>

#include "asks.hpp"
#include "night_file.hpp"

namespace hairline::desk {
namespace {

// The part of a queue that a job's rows depend on, as text: not its place, copies, times or how much resin there is.
std::string key_of(const Queue& queue, std::size_t job) {
  Queue part;
  part.jobs.push_back(queue.jobs[job]);
  part.jobs[0].copies = 1;
  for (const QueuePrinter& printer : queue.printers)
    part.printers.push_back({.label = printer.label, .record = printer.record, .plate_mm = printer.plate_mm});
  return write_queue(part, "/");
}

QueueEntry not_checked(const QueueJob& job, Error error) {
  QueueEntry entry{.place = 1, .job = job};
  entry.rows.emplace_back().error = std::move(error);
  return entry;
}

}  // namespace

NightChecks::NightChecks(Shared& shared) : shared_(shared) {}

NightChecks::~NightChecks() {
  {
    const std::lock_guard lock(mutex_);
    ended_ = true;
    if (running_) running_->cancel();
  }
  wake_.notify_all();
  if (thread_.joinable()) thread_.join();
}

// Keeps of what is known that which belongs to the new queue.
void NightChecks::take(const Queue& queue) {
  if (queue == queue_) return;
  queue_ = queue;
  stopped_ = false;
  keys_.clear();
  std::map<std::string, Known> kept;
  for (std::size_t i = 0; i < queue.jobs.size(); ++i) {
    keys_.push_back(key_of(queue, i));
    if (const auto found = known_.find(keys_.back()); found != known_.end()) kept.insert(*found);
  }
  known_ = std::move(kept);
  if (running_ && std::find(keys_.begin(), keys_.end(), running_key_) == keys_.end()) running_->cancel();
}

std::optional<std::size_t> NightChecks::next_job() const {
  if (stopped_) return {};
  for (std::size_t i = 0; i < keys_.size(); ++i)
    if (const auto known = known_.find(keys_[i]); known == known_.end() || known->second.old) return i;
  return {};
}

NightChecks::Seen NightChecks::see(const Queue& queue) {
  const std::lock_guard lock(mutex_);
  take(queue);
  Seen seen{.busy = running_ || next_job(), .stopped = stopped_};
  for (std::uint32_t i = 0; i < keys_.size(); ++i) {
    std::optional<QueueEntry>& entry = seen.entries.emplace_back();
    if (running_ && keys_[i] == running_key_ && !seen.running)
      seen.running = Running{i, running_->done(), running_->total()};
    const auto known = known_.find(keys_[i]);
    seen.waiting += known == known_.end();
    if (known == known_.end()) continue;
    entry = known->second.entry;
    entry->place = i + 1;
    entry->job = queue.jobs[i];
  }
  if (next_job() && !thread_.joinable()) thread_ = std::thread([this] { loop(); });
  wake_.notify_all();
  return seen;
}

void NightChecks::again() {
  const std::lock_guard lock(mutex_);
  stopped_ = false;
  for (auto& [key, known] : known_) known.old = true;
  wake_.notify_all();
}

void NightChecks::stop() {
  const std::lock_guard lock(mutex_);
  stopped_ = true;
  if (running_) running_->cancel();
}

NightRequest NightChecks::request_for(const Queue& queue) const {
  const Folder& folder = shared_.folder;
  const std::string name = shown_name(folder, queue.jobs[0].file);
  NightRequest request{.queue = queue,
                       .open = open_options_for(folder, folder.job(name) ? name : std::string()),
                       .record = {.records = folder.root().string()},
                       .cache = &shared_.cache};
  request.settings.threads = shared_.settings.threads;
  request.settings.tonight.today = shared_.today();
  return request;
}

QueueEntry NightChecks::check(const Queue& queue, Progress& progress) const {
  try {
    auto entries = check_queue(request_for(queue), progress, {});
    return entries ? std::move(entries->front()) : not_checked(queue.jobs[0], entries.error());
  } catch (const std::exception&) {
    return not_checked(queue.jobs[0], {ErrorKind::limit, queue.jobs[0].file, "the machine has no room for it",
                                       "memory for a check", "End other programs, and look at the night again."});
  }
}

void NightChecks::loop() {
  std::unique_lock lock(mutex_);
  for (;;) {
    wake_.wait(lock, [this] { return ended_ || next_job(); });
    if (ended_) return;
    const std::size_t job = *next_job();
    const Queue queue{queue_.times, queue_.printers, {queue_.jobs[job]}};
    const std::string key = running_key_ = keys_[job];
    const auto progress = running_ = std::make_shared<Progress>();
    lock.unlock();
    QueueEntry entry = check(queue, *progress);
    lock.lock();
    running_ = nullptr;
    const bool wanted = std::find(keys_.begin(), keys_.end(), key) != keys_.end();
    if (wanted && !progress->cancelled()) known_[key] = {std::move(entry), false};
  }
}

}  // namespace hairline::desk
