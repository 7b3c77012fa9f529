// Which resin record a job is held against.
#pragma once
#include <string>
#include <vector>

#include "hairline/record.hpp"
#include "hairline/settings.hpp"
#include "options.hpp"

namespace hairline::cli {

// All that were asked for: one (a file was named), or a folder's, each with its name. Fails with the first that cannot
// be read when it was named; in a folder, broken ones are kept as errors and only matter when nothing else matches.
struct Records {
  std::vector<ResinRecord> records;
  std::vector<std::string> broken;  // paragraphs
  std::string folder;               // empty: one file was named
};
Result<Records> read_records(const RecordChoice& choice);

// The record for a job. With a folder: the one whose resin label matches the job's and whose printer label does not
// contradict it. Fails with not_found, listing what there is; the record lives as long as `records`.
Result<const ResinRecord*> choose_record(const Records& records, const JobSettings& job, const std::string& job_file);

}  // namespace hairline::cli
