/// What a report depends on, as a short text: two checks with one key have one report. And what it does not depend on,
/// though it stands in it: where files lie, and which day it is.
#pragma once
#include <string>
#include <utility>
#include <vector>

#include "hairline/analyse.hpp"

namespace hairline::queue {

/// A record as it counts for results: its file's text and how it was read and chosen, but not where it lies.
std::string record_key(const ResinRecord& record);

struct KeyParts {
  const std::string& content;  ///< Archive::content_key
  const JobSettings& job;
  const std::string& record;  ///< record_key; empty: measured only
  const AnalyseSettings& settings;
};
/// Of all parts but remarks, the pattern of the masks' names, threads and memory, on which no report depends.
std::string report_key(const KeyParts& parts);

/// The day that stands for `today` in a check (both YYYY-MM-DD): on all days of one stand-in the record is equally
/// stale but for the number of days. So a job that is looked at tomorrow has the key it has today.
std::string stand_in_day(const ResinRecord& record, const std::string& today);

/// What a report says that its key does not hold.
struct Stamp {
  std::string file;
  std::vector<std::string> remarks;
  std::string record_file;
  std::optional<int> age_days;
  std::vector<std::pair<std::string, std::string>> dated;  ///< sentences of the stand-in day, and those of today
};
/// `record` may be null.
Stamp stamp_for(const std::string& file, const std::vector<std::string>& remarks, const ResinRecord* record,
                const std::string& today);
void put(const Stamp& stamp, Report& report);

}  // namespace hairline::queue
