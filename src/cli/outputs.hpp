// Where reports go: settled and tried before the long work, written at its end.
#pragma once
#include <CLI/CLI.hpp>
#include <filesystem>
#include <string>
#include <vector>

#include "hairline/report.hpp"
#include "hairline/result.hpp"

namespace hairline::cli {

// Files of one job; "-" is stdout, empty is none.
struct JobOutputs {
  std::string json, csv, html = {};
};

// An option or argument that says where an output goes; an empty name is a usage error.
CLI::Option* add_output(CLI::App& app, const std::string& name, std::string& path, const std::string& help,
                        const char* type = "FILE");

// What each job's outputs are: `asked` as it is for the only job, or, with `folders`, folders that exist, and in them
// files named after the jobs. Fails with usage where two outputs, or an output and an input, are the same file, and
// with unwritable.
Result<std::vector<JobOutputs>> settle_outputs(const std::vector<std::string>& jobs, const JobOutputs& asked,
                                               bool folders, const std::vector<std::string>& inputs);

// All these may be written, each is another file, and none is one of the inputs, nor lies in one. Fails with usage and
// unwritable.
Result<void> try_outputs(const std::vector<std::string>& paths, const std::vector<std::string>& inputs);
// A job's file or folder name without extension.
std::string stem_of(const std::string& job);

// None of the inputs is one of the outputs, which need not be there yet. Fails with usage.
Result<void> keep_from(const std::vector<std::filesystem::path>& outputs, const std::vector<std::string>& inputs);

// To a file, or to stdout for "-".
Result<void> write_output(const std::string& path, const std::string& text);
Result<void> write_json_output(const std::string& path, const Report& report);

}  // namespace hairline::cli
