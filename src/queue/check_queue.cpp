// Every job of a queue, checked: all are opened, jobs become rows (a job and a record), rows of one key become one
// check, what is remembered is read, and the rest is checked side by side, longest first.
#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <thread>

#include "../base/fingerprint.hpp"
#include "found_job.hpp"
#include "hairline/files.hpp"
#include "hairline/layer_view.hpp"
#include "hairline/memory.hpp"
#include "hairline/page.hpp"
#include "keys.hpp"
#include "remembered.hpp"

namespace hairline {
namespace {

using namespace queue;

// Calls `work` for each number under `count`, on so many threads. What it throws is thrown here. The threads are its
// own: one of TBB's that waits within a check would begin another job meanwhile, and hold both in memory.
template <class Work>
void side_by_side(std::size_t count, std::size_t threads, const Work& work) {
  std::atomic<std::size_t> next{0};
  std::exception_ptr thrown;
  std::mutex mutex;
  const auto loop = [&] {
    try {
      for (std::size_t i; (i = next++) < count;) work(i);
    } catch (...) {
      const std::lock_guard lock(mutex);
      thrown = std::current_exception();
      next = count;
    }
  };
  {
    std::vector<std::jthread> others;
    for (std::size_t i = 1; i < std::min(count, threads); ++i) others.emplace_back(loop);
    loop();
  }
  if (thrown) std::rethrow_exception(thrown);
}

struct RowPlace {
  std::uint32_t job = 0;    // of the queue
  std::uint32_t entry = 0;  // of the result
  std::uint32_t row = 0;
  RecordPointer record;  // records of other files with the same text share a check
};

// One check, for all rows that it answers.
struct Task {
  std::string key;
  std::vector<RowPlace> places;
  RecordPointer record;
  AnalyseSettings settings;  // its day is a stand-in
  double cost = 0;
  bool again = false;  // to be checked alone: there is too little memory for it beside others
};

Error changed(const std::string& file) {
  return {ErrorKind::unreadable, file, "the job changed while the queue was checked", "a job that stays as it is",
          "Check the queue again once it is written."};
}

Error cancelled_error() {
  return {ErrorKind::cancelled, "", "the check was stopped"};
}

// What a row is made of, as its file says it: so a row does not depend on whether its report was remembered.
Report reread_row_part(const Report& report) {
  Report part = row_part(report);
  auto read = parse_report(to_json(part), report.job.file);
  return read ? std::move(*read) : part;
}

class Night {
 public:
  Night(const NightRequest& request, Progress& progress, const RowSink& sink)
      : request_(request), progress_(progress), all_(progress), sink_(sink), records_(request) {}

  Result<std::vector<QueueEntry>> check() {
    threads_ = request_.settings.threads > 0 ? request_.settings.threads : std::thread::hardware_concurrency();
    threads_ = std::max<std::size_t>(threads_, 1);
    if (wants_looks())
      if (auto made = make_folder(request_.looks_folder); !made) return tl::unexpected(std::move(made.error()));
    open_jobs();
    if (all_.cancelled()) return tl::unexpected(cancelled_error());
    make_tasks();
    std::vector<Task*> rest = not_remembered();
    start(rest);
    const std::size_t workers = workers_for(rest.size());
    memory_bytes_ = workers > 1 ? most_bytes() / workers : asked_bytes();
    side_by_side(rest.size(), workers, [&](std::size_t i) {
      rest[i]->again = workers > 1 && usual_bytes(*rest[i]) > memory_bytes_;
      if (!rest[i]->again) run(*rest[i], workers > 1);
    });
    memory_bytes_ = asked_bytes();
    for (Task* task : rest) {
      if (!task->again) continue;
      give_back_freed_memory();
      run(*task, false);
    }
    if (failure_) return tl::unexpected(*failure_);
    if (progress_.cancelled()) return tl::unexpected(cancelled_error());
    return std::move(entries_);
  }

 private:
  // ---- jobs, rows, tasks ----

  void open_jobs() {
    const std::vector<QueueJob>& jobs = request_.queue.jobs;
    found_.resize(jobs.size());
    side_by_side(jobs.size(), threads_, [&](std::size_t i) {
      if (!all_.cancelled()) found_[i] = find_job(jobs[i], request_.open, request_.cache);
    });
  }

  void make_tasks() {
    const std::vector<QueueJob>& jobs = request_.queue.jobs;
    for (std::uint32_t i = 0; i < jobs.size(); ++i) {
      if (request_.shard && share_of(found_[i], jobs[i].file, request_.shard->of) != request_.shard->part) continue;
      QueueEntry entry{i + 1, jobs[i], {}};
      if (found_[i]) {
        for (PlannedRow& row : records_.rows_for(jobs[i], found_[i]->settings)) add_row(std::move(row), i, entry);
      } else {
        QueueRow& row = entry.rows.emplace_back();
        row.printers = records_.asked_for(jobs[i]);
        row.error = found_[i].error();
      }
      entries_.push_back(std::move(entry));
    }
  }

  void add_row(PlannedRow planned, std::uint32_t job, QueueEntry& entry) {
    const RowPlace place{job, static_cast<std::uint32_t>(entries_.size()),
                         static_cast<std::uint32_t>(entry.rows.size()), planned.record};
    QueueRow& row = entry.rows.emplace_back();
    row.printers = std::move(planned.printers);
    row.error = std::move(planned.error);
    if (row.error) return;
    Task task;
    task.record = std::move(planned.record);
    task.settings = request_.settings;
    if (entry.job.exposure_s) task.settings.exposure_s = entry.job.exposure_s;
    std::string& today = task.settings.tonight.today;
    if (task.record) today = stand_in_day(task.record->record, today);
    task.key = key_of(task, job);
    const auto [at, is_new] = task_by_key_.emplace(task.key, tasks_.size());
    if (is_new) {
      const JobSettings& settings = found_[job]->settings;
      task.cost = static_cast<double>(settings.layer_count) * settings.size.width_px * settings.size.height_px;
      tasks_.push_back(std::move(task));
    }
    tasks_[at->second].places.push_back(place);
  }

  std::string key_of(const Task& task, std::uint32_t job) const {
    return report_key({.content = found_[job]->content,
                       .job = found_[job]->settings,
                       .record = task.record ? task.record->key : std::string(),
                       .settings = task.settings});
  }
  std::string key_of_page(const Task& task, const RowPlace& place) const {
    const Stamp stamp = stamp_of(place);
    std::string text = task.key + "\npage\n" + stamp.file + '\n' + stamp.record_file + '\n';
    for (const std::string& remark : stamp.remarks) text += remark + '\n';
    return fingerprint(text + request_.settings.tonight.today);
  }

  Stamp stamp_of(const RowPlace& place) const {
    return stamp_for(request_.queue.jobs[place.job].file, found_[place.job]->settings.remarks,
                     place.record ? &place.record->record : nullptr, request_.settings.tonight.today);
  }

  // ---- memory and progress ----

  std::uint64_t asked_bytes() const {
    return request_.settings.memory_bytes > 0 ? request_.settings.memory_bytes : request_.open.limits.memory_bytes;
  }
  std::uint64_t most_bytes() const { return asked_bytes() > 0 ? asked_bytes() : usual_memory_bytes(0); }
  // What a job of this size may well take.
  std::uint64_t usual_bytes(const Task& task) const {
    const Size size = found_[task.places.front().job]->settings.size;
    return 100'000'000 + 12 * std::uint64_t{size.width_px} * size.height_px;
  }
  std::size_t workers_for(std::size_t tasks) const {
    constexpr std::uint64_t least_bytes = 200'000'000;  // the program takes 64 MB of that
    return std::max<std::size_t>(std::min({threads_, tasks, static_cast<std::size_t>(most_bytes() / least_bytes)}), 1);
  }

  std::uint32_t layers_of(const Task& task) const { return found_[task.places.front().job]->settings.layer_count; }

  // Answers what is remembered; the others, longest first.
  std::vector<Task*> not_remembered() {
    std::vector<char> done(tasks_.size(), 0);
    if (request_.cache != nullptr)
      side_by_side(tasks_.size(), threads_, [&](std::size_t i) { done[i] = answer_from_memory(tasks_[i]); });
    std::vector<Task*> rest;
    for (std::size_t i = 0; i < tasks_.size(); ++i)
      if (!done[i]) rest.push_back(&tasks_[i]);
    std::stable_sort(rest.begin(), rest.end(), [](const Task* a, const Task* b) { return a->cost > b->cost; });
    return rest;
  }

  void start(const std::vector<Task*>& rest) {
    std::uint32_t layers = 0;
    for (const Task* task : rest) layers += layers_of(*task);
    progress_.start(layers);
  }

  // ---- looks ----

  bool wants_looks() const { return request_.pages && !request_.looks_folder.empty(); }
  // Empty: none are wanted.
  std::filesystem::path looks_of(const Task& task) const {
    return wants_looks() ? request_.looks_folder / task.key : std::filesystem::path();
  }
  static std::filesystem::path flips_file(const std::filesystem::path& looks) { return looks.string() + ".flips"; }
  static std::filesystem::path thumbnail_file(const std::filesystem::path& looks) { return looks.string() + ".png"; }
  bool has_looks(const Task& task) const {
    const auto there = [](const std::filesystem::path& file) {
      std::error_code none;
      return std::filesystem::is_regular_file(file, none);
    };
    const std::filesystem::path looks = looks_of(task);
    return looks.empty() || (there(flips_file(looks)) && there(thumbnail_file(looks)));
  }

  // ---- one check ----

  using Pages = std::vector<std::string>;  // one for each place
  struct Answer {
    Report& report;
    Report row;  // its part for a row
    std::optional<Verdict> suggested_verdict;
    Pages pages;
  };

  std::optional<Pages> remembered_pages(const Task& task) const {
    Pages pages;
    for (const RowPlace& place : task.places) {
      auto page = request_.pages ? request_.cache->find(key_of_page(task, place)) : std::string();
      if (!page) return {};
      pages.push_back(std::move(*page));
    }
    return pages;
  }

  // False: something of it is not remembered.
  bool answer_from_memory(const Task& task) {
    if (all_.cancelled()) return true;
    auto checked = remembered(*request_.cache, sink_ ? Part::whole : Part::row, task.key, file_of(task));
    if (!checked) return false;
    if (!*checked) return tell_error(task, checked->error()), true;
    if (!has_looks(task)) return false;
    auto pages = remembered_pages(task);
    if (!pages) return false;
    Answer answer{**checked, row_part(**checked), {}, std::move(*pages)};
    if (const auto other = task_at_suggestion(task, answer.row)) {
      const auto then = remembered(*request_.cache, Part::row, other->key, file_of(task));
      if (!then) return false;
      if (*then) answer.suggested_verdict = (*then)->verdict;
    }
    tell(task, answer);
    return true;
  }

  void run(Task& task, bool shared) {
    if (all_.cancelled()) return;
    task.again = false;
    std::optional<Pictures> pictures;
    if (request_.pages) pictures.emplace();
    if (wants_looks()) pictures->flips_file = flips_file(looks_of(task));
    auto report = checked(task, pictures ? &*pictures : nullptr, shared);
    if (all_.cancelled()) return;
    if (task.again) return;
    if (report && wants_looks())
      if (auto kept = write_text(thumbnail_file(looks_of(task)), thumbnail_png(pictures->silhouettes)); !kept)
        report = tl::unexpected(std::move(kept.error()));
    if (!report) return tell_error(task, report.error());
    Answer answer{*report, reread_row_part(*report), {}, {}};
    if (const auto other = task_at_suggestion(task, answer.row)) {
      progress_.expect(layers_of(task));
      Task then = *other;
      const auto result = checked(then, nullptr, shared);
      if (all_.cancelled()) return;
      task.again = then.again;
      if (task.again) return;
      if (result) answer.suggested_verdict = result->verdict;
    }
    for (const RowPlace& place : task.places) {
      put(stamp_of(place), *report);
      answer.pages.push_back(pictures ? show_html({.report = *report, .pictures = &*pictures}) : std::string());
      if (pictures && request_.cache != nullptr) request_.cache->keep(key_of_page(task, place), answer.pages.back());
    }
    tell(task, answer);
  }

  // The same check at the time that would let a job on hold start; none where there is no such time.
  std::optional<Task> task_at_suggestion(const Task& task, const Report& row) const {
    const bool other = row.suggestion && row.suggestion->action == Action::change;
    if (row.verdict != Verdict::hold || !other || row.suggestion->exposure_s == row.exposure_s) return {};
    Task then = task;
    then.settings.exposure_s = row.suggestion->exposure_s;
    then.key = key_of(then, task.places.front().job);
    return then;
  }

  // By memory where it is remembered and no pictures are wanted, else anew; then it is remembered.
  Result<Report> checked(Task& task, Pictures* pictures, bool shared) {
    if (request_.cache != nullptr && pictures == nullptr)
      if (auto known = remembered(*request_.cache, Part::whole, task.key, file_of(task))) {
        all_.advance(layers_of(task));
        return std::move(*known);
      }
    Progress part(all_);
    auto report = analysed(task, pictures, part);
    task.again = !report && shared && report.error().kind == ErrorKind::limit;
    all_.advance((task.again ? 0 : layers_of(task)) - part.done());
    if (request_.cache != nullptr) remember(*request_.cache, task.key, file_of(task), report);
    return report;
  }

  Result<Report> analysed(const Task& task, Pictures* pictures, Progress& part) const {
    const FoundJob& job = *found_[task.places.front().job];
    const auto archive = open_job(request_.queue.jobs[task.places.front().job], request_.open);
    if (!archive) return tl::unexpected(archive.error());
    const bool same = !job.state.empty() && archive->state_key() == job.state;
    const auto content = same ? Result<std::string>(job.content) : archive->content_key();
    if (!content) return tl::unexpected(content.error());
    if (*content != job.content || archive->settings() != job.settings) return tl::unexpected(changed(file_of(task)));
    AnalyseSettings settings = task.settings;
    settings.memory_bytes = memory_bytes_;
    return analyse(*archive, task.record ? &task.record->record : nullptr, settings, part, pictures);
  }

  const std::string& file_of(const Task& task) const { return request_.queue.jobs[task.places.front().job].file; }

  // ---- answers ----

  QueueRow& row_at(const RowPlace& place) { return entries_[place.entry].rows[place.row]; }

  void tell_error(const Task& task, const Error& error) {
    for (const RowPlace& place : task.places) {
      Error own = error;
      if (own.file == file_of(task)) own.file = request_.queue.jobs[place.job].file;
      row_at(place).error = std::move(own);
    }
  }

  void tell(const Task& task, Answer& answer) {
    for (std::size_t i = 0; i < task.places.size(); ++i) {
      const RowPlace& place = task.places[i];
      const Stamp stamp = stamp_of(place);
      put(stamp, answer.row);
      put(stamp, answer.report);
      QueueRow row = queue_row(answer.row);
      row.printers = std::move(row_at(place).printers);
      row.suggested_verdict = answer.suggested_verdict;
      if (task.record) row.record.pitch_mm = task.record->record.printer.pitch_mm;
      row_at(place) = std::move(row);
      const std::lock_guard lock(sink_mutex_);
      if (!sink_ || failure_) continue;
      if (auto told = sink_({place.job, place.row, answer.report, answer.pages[i], looks_of(task)}); !told) {
        failure_ = told.error();
        all_.cancel();
      }
    }
  }

  const NightRequest& request_;
  Progress& progress_;
  Progress all_;  // cancelled by a failure too
  const RowSink& sink_;
  QueueRecords records_;
  std::size_t threads_ = 1;
  std::uint64_t memory_bytes_ = 0;       // of one check
  std::vector<Result<FoundJob>> found_;  // by job of the queue
  std::vector<QueueEntry> entries_;
  std::vector<Task> tasks_;
  std::map<std::string, std::size_t> task_by_key_;
  std::mutex sink_mutex_;
  std::optional<Error> failure_;
};

}  // namespace

Result<std::vector<QueueEntry>> check_queue(const NightRequest& request, Progress& progress, const RowSink& sink) {
  return Night(request, progress, sink).check();
}

}  // namespace hairline
