/// What is remembered of the last check of a job, in desk/checks: enough for a list of jobs. Its page and its report
/// lie in desk/cache under an id of their own.
#pragma once
#include "hairline/report.hpp"
#include "json.hpp"
#include "shared.hpp"

namespace hairline::desk {

/// What is asked for.
struct AskedCheck {
  std::string job;     ///< its name in the folder
  std::string record;  ///< likewise; empty: measured only
  std::optional<double> exposure_s;
  bool operator==(const AskedCheck&) const = default;
};

/// What is lost at a time.
struct LostAt {
  double exposure_s = 0;
  std::string verdict;  ///< "hold"; empty: not known
  std::string text;     ///< as `lost_text` says it
  double harm_mm = 0;   ///< chances times sizes, added up
};

struct LastCheck {
  AskedCheck asked;
  std::string id;                     ///< 32 hexadecimal digits
  std::string at;                     ///< "2026-11-26T21:05", local
  std::string job_mark, record_mark;  ///< of the files as they were
  std::string looks;                  ///< name in desk/cache of what shows its layers; empty: none
  std::string title, verdict, sentence, time_text;
  double duration_s = 0, resin_ml = 0;
  std::optional<LostAt> now;     ///< unset: measured only
  std::optional<LostAt> then;    ///< at the time to set; unset where that is the judged one
  std::optional<LostAt> before;  ///< of the check before it, where that was of the same files at another time
  double exposure_s = 0;
  std::vector<double> rows_s;  ///< times whose losses the report knows
};

/// What `report` says; id, marks, looks and `before` are left to the caller.
LastCheck summary_of(const Report& report);

/// As it stands in its file.
Json json_of(const LastCheck& check);
/// None where there is none, or it is damaged.
std::optional<LastCheck> last_check(const Folder& folder, const std::string& job);
/// Keeps it with its page and report, and removes those of the check before. Fails with unwritable.
Result<void> keep_check(const Folder& folder, const LastCheck& check, const std::string& page, const Report& report);
/// "page.html" and "report.json" of a check. Fails with not_found and unreadable.
Result<std::string> kept_part(const Folder& folder, const LastCheck& check, const std::string& part);

/// A short text that is another one once a file or a folder of masks, or what was answered about it, has changed.
std::string mark_of_job(const Folder& folder, const std::string& job);
std::string mark_of_record(const Folder& folder, const std::string& record);

}  // namespace hairline::desk
