// Which resin record a job is held against.
#pragma once
#include <optional>

#include "hairline/record.hpp"
#include "hairline/settings.hpp"
#include "options.hpp"

namespace hairline::cli {

// One record for all jobs when a file was named, else a folder in which each job's own is looked up.
struct Records {
  std::optional<ResinRecord> named;
  RecordChoice choice;
};
// Fails with usage when nothing was named, and with whatever is wrong with a file that was.
Result<Records> read_records(const RecordChoice& choice);
// The record for one job, with a fit. Fails as pick_record does.
Result<ResinRecord> record_for(const Records& records, const JobSettings& job);

}  // namespace hairline::cli
