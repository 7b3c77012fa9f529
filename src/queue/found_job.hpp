/// The jobs of a queue before any is checked: opened once, known by what they hold, and held against the records they
/// may be printed by.
#pragma once
#include <array>
#include <map>
#include <memory>

#include "hairline/night.hpp"

namespace hairline::queue {

/// A job as it was when it was opened. It is closed again: a night may have thousands.
struct FoundJob {
  JobSettings settings;
  std::string content, state;  ///< content_key and state_key of the archive; the latter may be empty
};
/// How a job of the queue is opened: where its archive states no exposure, the queue's own for it counts.
Result<Archive> open_job(const QueueJob& job, const OpenOptions& open);
/// `cache` (may be null) knows what files held when they were last read, so that they are not read again while they
/// stay as they are. Fails as Archive::open and content_key do.
Result<FoundJob> find_job(const QueueJob& asked, const OpenOptions& open, ReportCache* cache);

/// Which share of so many the job falls into, from 1: by what it holds, or by its file's name where it cannot be
/// opened.
std::uint32_t share_of(const Result<FoundJob>& job, const std::string& file, std::uint32_t shares);

/// A record ready to be held against, and its key.
struct KnownRecord {
  ResinRecord record;
  std::string key;
};
using RecordPointer = std::shared_ptr<const KnownRecord>;  ///< null: measured only

/// One row that a job is to have: a record, and the printers that have it; or why there is none.
struct PlannedRow {
  std::vector<std::uint32_t> printers;
  RecordPointer record;
  std::optional<Error> error;
};

/// The records of a queue's printers, each file and folder read once.
class QueueRecords {
 public:
  explicit QueueRecords(const NightRequest& request);
  /// A row for each record among the printers that may print the job, by the first of them. Where it fits none of them
  /// one row alone, for the nearest.
  std::vector<PlannedRow> rows_for(const QueueJob& job, const JobSettings& settings);
  /// Printers that the job may go to by their labels.
  std::vector<std::uint32_t> asked_for(const QueueJob& job) const;

 private:
  const Result<RecordPointer>& record_of(std::uint32_t printer, const JobSettings& settings);

  const NightRequest& request_;
  std::map<std::string, Result<Records>> records_;                      // by what a printer names
  std::map<std::array<std::string, 3>, Result<RecordPointer>> chosen_;  // by that, and the job's resin and printer
  std::map<std::string, RecordPointer> known_;                          // by file and key
};

}  // namespace hairline::queue
