/// From paths to a night that is checked and planned: the queue file, the checks side by side, the memory of earlier
/// ones, the plan.
#pragma once
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "hairline/check.hpp"
#include "hairline/pictures.hpp"
#include "hairline/queue.hpp"

namespace hairline {

/// A queue file (formats/print-queue.md): paths in it are relative to its own folder. Fails with not_found, unreadable,
/// broken, version, invalid (a field; a printer that is not in the list; two printers of one label), limit.
Result<Queue> read_queue(const std::filesystem::path& path);
/// The same of a text that lies, or is to lie, at `path`.
Result<Queue> parse_queue(const std::string& text, const std::filesystem::path& path);
/// A queue as the text of such a file in `folder`. Paths are relative to it, unless they have nothing but the root in
/// common. Read again it is the same queue; same value, same bytes. Bytes of paths that are no UTF-8 are lost.
std::string write_queue(const Queue& queue, const std::filesystem::path& folder);

/// What paths stand for: queue files (.json), and all that find_jobs takes. Jobs in the order given; printers of all
/// queue files together. Fails as read_queue and find_jobs do, and with mismatch where two files state different times
/// or one printer differently.
Result<Queue> find_queue(const std::vector<std::string>& paths);

/// Who prints what, and when. Jobs keep the order of the queue, but on each printer those of one resin follow one
/// another, resins in the order of their first job. A job without a printer goes where it ends first, of equal ones to
/// the first. Left out is what LeftOut names. Pure arithmetic; fails with invalid (unknown zone).
Result<NightPlan> plan_night(const QueueTimes& times, const std::vector<QueuePrinter>& printers,
                             const std::vector<QueueEntry>& entries);

/// Reports of earlier checks, kept by what they depend on, in one SQLite file; several runs may use it at once. What
/// cannot be kept or read is no failure: `warning` then says so, once, and all is checked anew.
class ReportCache {
 public:
  /// The file is made where it is not there. `most_bytes`: the longest unused go where it becomes larger.
  static ReportCache open(const std::filesystem::path& folder, std::uint64_t most_bytes = 512u << 20);
  ReportCache();  ///< keeps nothing
  ReportCache(ReportCache&&) noexcept;
  ReportCache& operator=(ReportCache&&) noexcept;
  ~ReportCache();

  /// Any thread may call these.
  std::optional<std::string> find(const std::string& key);
  void keep(const std::string& key, const std::string& value);
  std::optional<Error> warning() const;

 private:
  struct State;
  std::unique_ptr<State> state_;
};

/// hairline in the user's cache folder ($XDG_CACHE_HOME, else ~/.cache; XDG Base Directory Specification); empty when
/// neither is known.
std::filesystem::path user_cache();

struct NightRequest {
  Queue queue;
  OpenOptions open = {};
  RecordChoice record = {};  ///< for printers that name none
  bool measured_only = false;
  AnalyseSettings settings = {};  ///< threads and memory are those of the whole
  std::optional<Shard> shard = {};
  bool pages = false;  ///< make each job's page
  /// Where pages are made: the folder that takes what later looks at a job's layers need; it is made where it is not
  /// there. Empty: nothing is kept for them.
  std::filesystem::path looks_folder = {};
  ReportCache* cache = nullptr;
};

/// One row as it comes: its report, and its page where pages are made. Called from one thread at a time, in no order.
struct CheckedRow {
  std::uint32_t job = 0, row = 0;  ///< index into Queue::jobs; row of that job's entry
  const Report& report;
  const std::string& page;  ///< empty: none is made
  /// With ".flips" and ".png" behind it: what flips in each layer (hairline/flips.hpp), and a picture of the print
  /// (hairline/layer_view.hpp, thumbnail_png). Empty: none are kept.
  std::filesystem::path looks = {};
};
using RowSink = std::function<Result<void>(const CheckedRow& row)>;

/// Checks every job for every record it may be held against, longest first, side by side as memory allows; equal ones
/// once. A job that cannot be checked has its error in its row and stops no other. A job on hold that another time may
/// save is checked at that time too. Entries come in the order of the jobs, those of other shards are left out; the
/// same on any number of threads and with any cache. `progress` counts layers of the whole queue. Fails with cancelled,
/// and as `sink` does. Without a sink (an empty function) remembered reports are not read whole, which is faster.
Result<std::vector<QueueEntry>> check_queue(const NightRequest& request, Progress& progress, const RowSink& sink);

/// The whole of its shares, planned. Fails with mismatch where one is missing, is there twice with other results, or
/// where they are of different queues.
Result<CheckedQueue> merge_shards(std::vector<CheckedQueue> shards);

}  // namespace hairline
