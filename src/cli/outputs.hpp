// Where reports go: settled and tried before the long work, written at its end.
#pragma once
#include <optional>
#include <string>
#include <vector>

#include "hairline/report.hpp"
#include "hairline/result.hpp"

namespace hairline::cli {

// Files of one job; "-" is stdout, empty is none.
struct JobOutputs {
  std::string json, csv;
};

// For one job, `json` and `csv` are files. For several, each is a folder that exists, and the files in it are named
// after the jobs. Fails with usage where two outputs, or an output and an input, are the same file, and with
// unwritable.
Result<std::vector<JobOutputs>> settle_outputs(const std::vector<std::string>& jobs, const std::string& json,
                                               const std::string& csv, const std::vector<std::string>& inputs);
// A folder for JSON reports, whatever the number of jobs.
Result<std::vector<JobOutputs>> settle_in_folder(const std::vector<std::string>& jobs, const std::string& json_folder,
                                                 const std::vector<std::string>& inputs);

// To a file, or to stdout for "-".
Result<void> write_output(const std::string& path, const std::string& text);
Result<void> write_json_output(const std::string& path, const Report& report);

}  // namespace hairline::cli
