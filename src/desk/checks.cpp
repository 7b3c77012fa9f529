#include "checks.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>

#include "../base/fingerprint.hpp"
#include "../base/numbers.hpp"
#include "asks.hpp"
#include "fragment.hpp"

namespace hairline::desk {
namespace {

namespace fs = std::filesystem;

constexpr std::size_t most_waiting = 200;

// The day, the moment and the job make it its own.
std::string new_id(const AskedCheck& asked) {
  return fingerprint(
      fmt::format("{} {} {}", asked.job, asked.record, std::chrono::system_clock::now().time_since_epoch().count()));
}

bool same_files(const LastCheck& a, const LastCheck& b) {
  return a.job_mark == b.job_mark && a.record_mark == b.record_mark && a.asked.record == b.asked.record;
}

// What the check before says of its time, so that both can be seen side by side; a check that is only repeated keeps
// it.
std::optional<LostAt> before_of(const LastCheck& check, const std::optional<LastCheck>& last) {
  if (!last || !same_files(check, *last)) return {};
  return last->exposure_s == check.exposure_s ? last->before : last->now;
}

// What flips in the layers of the oldest checks goes where all of it takes more than this; a new check brings it back.
constexpr std::uintmax_t most_flips_folder_bytes = 4'000'000'000;

void make_room_for_flips(const fs::path& cache) {
  struct Kept {
    fs::file_time_type at;
    fs::path file;
    std::uintmax_t bytes;
  };
  std::vector<Kept> kept;
  std::uintmax_t all = 0;
  std::error_code error;
  for (fs::directory_iterator entry(cache, error), end; !error && entry != end; entry.increment(error)) {
    if (entry->path().extension() != ".flips") continue;
    std::error_code gone;
    const Kept one{fs::last_write_time(entry->path(), gone), entry->path(), fs::file_size(entry->path(), gone)};
    if (gone) continue;
    kept.push_back(one);
    all += one.bytes;
  }
  std::sort(kept.begin(), kept.end(), [](const Kept& a, const Kept& b) { return a.at < b.at; });
  for (std::size_t i = 0; all > most_flips_folder_bytes && i + 1 < kept.size(); ++i) {
    fs::remove(kept[i].file, error);
    all -= kept[i].bytes;
  }
}

}  // namespace

Checks::Checks(Shared& shared) : shared_(shared), thread_([this] { work(); }) {}

Checks::~Checks() {
  {
    const std::lock_guard lock(mutex_);
    ended_ = true;
    for (Check& check : checks_) check.progress.cancel();
  }
  wake_.notify_all();
  thread_.join();
}

Result<std::uint64_t> Checks::add(const AskedCheck& asked) {
  const std::lock_guard lock(mutex_);
  std::size_t waiting = 0;
  for (const Check& check : checks_) {
    if (check.active() && check.asked == asked) return check.number;
    waiting += check.active() ? 1 : 0;
  }
  if (waiting >= most_waiting)
    return tl::unexpected(Error{ErrorKind::limit, "", fmt::format("{} checks wait already", waiting),
                                fmt::format("{} at most", most_waiting), "Wait for some of them, or cancel them."});
  std::erase_if(checks_, [&](const Check& check) { return check.asked.job == asked.job && !check.active(); });
  Check& check = checks_.emplace_back();
  check.number = ++last_number_;
  check.asked = asked;
  wake_.notify_all();
  return check.number;
}

bool Checks::cancel(std::uint64_t number) {
  const std::lock_guard lock(mutex_);
  for (Check& check : checks_) {
    if (check.number != number || !check.active()) continue;
    check.progress.cancel();
    if (check.stage == Stage::waiting) check.stage = Stage::cancelled;
  }
  return number > 0 && number <= last_number_;
}

Json Checks::states() const {
  static constexpr const char* words[] = {"waiting", "running", "done", "failed", "cancelled"};  // as in Stage
  const std::lock_guard lock(mutex_);
  Json list = Json::array();
  for (const Check& check : checks_)
    list.push_back({{"number", check.number},
                    {"job", check.asked.job},
                    {"record", check.asked.record},
                    {"exposure_s", or_null(check.asked.exposure_s)},
                    {"stage", words[static_cast<std::size_t>(check.stage)]},
                    {"done", check.progress.done()},
                    {"total", check.progress.total()},
                    {"error", check.error}});
  return list;
}

bool Checks::active() const {
  const std::lock_guard lock(mutex_);
  return std::any_of(checks_.begin(), checks_.end(), [](const Check& check) { return check.active(); });
}

void Checks::work() {
  std::unique_lock lock(mutex_);
  for (;;) {
    const auto next =
        std::find_if(checks_.begin(), checks_.end(), [](const Check& check) { return check.stage == Stage::waiting; });
    if (ended_) return;
    if (next == checks_.end()) {
      wake_.wait(lock);
      continue;
    }
    next->stage = Stage::running;
    lock.unlock();
    const auto ran = run(*next);
    lock.lock();
    const bool cancelled = next->progress.cancelled();
    next->stage = ran ? Stage::done : cancelled ? Stage::cancelled : Stage::failed;
    if (!ran) next->error = to_paragraph(for_page(ran.error()));
  }
}

// A machine without room left ends a check, not the desk.
Result<void> Checks::run(Check& check) {
  try {
    return check_and_keep(check);
  } catch (const std::exception&) {
    return tl::unexpected(Error{ErrorKind::limit, "", "the machine has no room left for this check", "",
                                "End other programs, and check again."});
  }
}

Result<void> Checks::check_and_keep(Check& check) {
  const Folder& folder = shared_.folder;
  const AskedCheck& asked = check.asked;
  const auto job = folder.job(asked.job);
  if (!job) return tl::unexpected(job.error());
  const auto record = asked.record.empty() ? Result<fs::path>(fs::path()) : folder.record(asked.record);
  if (!record) return tl::unexpected(record.error());
  NightRequest request;
  request.queue.printers.emplace_back().record = record->string();
  QueueJob& asked_for = request.queue.jobs.emplace_back();
  asked_for.file = job->string();
  asked_for.exposure_s = asked.exposure_s;
  request.open = open_options_for(folder, asked.job);
  request.measured_only = asked.record.empty();
  request.settings.threads = shared_.settings.threads;
  request.settings.tonight.today = shared_.today();
  request.pages = true;
  request.looks_folder = folder.root() / "desk" / "cache";
  request.cache = &shared_.cache;
  const std::string job_mark = mark_of_job(folder, asked.job), record_mark = mark_of_record(folder, asked.record);
  bool kept = false;  // then it is done, also where it was cancelled at that moment
  const auto entries = check_queue(request, check.progress, [&](const CheckedRow& row) {
    LastCheck made = summary_of(row.report);
    made.asked = asked;
    made.id = new_id(asked);
    made.at = shared_.now();
    made.job_mark = job_mark;
    made.record_mark = record_mark;
    made.looks = row.looks.filename().string();
    made.before = before_of(made, last_check(folder, asked.job));
    auto written = keep_check(folder, made, row.page, row.report);
    kept = written.has_value();
    return written;
  });
  if (!entries && !kept) return tl::unexpected(entries.error());
  if (const auto& error = kept ? std::optional<Error>() : entries->front().rows.front().error)
    return tl::unexpected(*error);
  if (!asked.record.empty()) note_use(user_uses(), *record, shared_.today());
  make_room_for_flips(request.looks_folder);
  return {};
}

namespace {

constexpr Range seconds{0, 3600, true, "s"};

// Empty: the job's own time.
Result<std::optional<double>> time_in(const Json& body) {
  const std::string text = body.value("exposure", std::string());
  if (text.empty()) return std::optional<double>();
  const TypedNumber typed = typed_number(text, seconds);
  if (typed.value && seconds.holds(*typed.value)) return typed.value;
  return tl::unexpected(Error{ErrorKind::usage, "", "the time says " + quoted(text, seconds), seconds.words(),
                              "Correct it, or leave it empty for the job's own."});
}

Answer start_check(Shared& shared, Checks& checks, const Call& call) {
  const Json body = json_in(call.body);
  const bool whole =
      body.is_object() && body.value("exposure", Json("")).is_string() && body.value("record", Json("")).is_string();
  if (!whole) return refusal(400, "A check is asked for by a record and a time, as texts.");
  AskedCheck asked{.job = call.names[0], .record = body.value("record", std::string()), .exposure_s = {}};
  if (const auto job = shared.folder.job(asked.job); !job) return refusal(job.error());
  if (!asked.record.empty())
    if (const auto record = shared.folder.record(asked.record); !record) return refusal(record.error());
  const auto time = time_in(body);
  if (!time) return json_answer({{"refused", to_paragraph(time.error())}});  // typed wrong: no failed request
  asked.exposure_s = *time;
  const auto number = checks.add(asked);
  if (!number) return refusal(number.error());
  return json_answer({{"number", *number}});
}

// The states as they change, ten times a second at most; while a check runs at least every second.
Answer event_stream(const std::shared_ptr<Checks>& checks) {
  using Clock = std::chrono::steady_clock;
  struct Told {
    std::string text;
    Clock::time_point at;
  };
  const auto told = std::make_shared<Told>();
  return {.type = "text/event-stream", .body = {}, .events = [checks, told](const TextSink& sink) {
            if (!told->text.empty()) std::this_thread::sleep_for(std::chrono::milliseconds(100));
            const bool active = checks->active();
            std::string text = json_text({{"checks", checks->states()}});
            const auto since = Clock::now() - told->at;
            const bool due = text != told->text || (active && since >= std::chrono::seconds(1));
            if (!due && since < std::chrono::seconds(5)) return true;
            told->at = Clock::now();
            if (!due) return sink(": still here\n\n");
            told->text = std::move(text);
            return sink("data: " + told->text + "\n\n");
          }};
}

}  // namespace

void add_check_routes(Routes& routes, Shared& shared, const std::shared_ptr<Checks>& checks) {
  routes.push_back({"POST", "/api/jobs/{}/check",
                    [&shared, checks](const Call& call) { return start_check(shared, *checks, call); }});
  routes.push_back({"POST", "/api/checks/{}/cancel", [checks](const Call& call) {
                      const double number = std::clamp(parse_number(call.names[0]).value_or(0), 0.0, 1e15);
                      if (!checks->cancel(static_cast<std::uint64_t>(number)))
                        return refusal(404, "There is no such check.");
                      return json_answer(Json::object());
                    }});
  routes.push_back({"GET", "/api/events", [checks](const Call&) { return event_stream(checks); }});
}

}  // namespace hairline::desk
