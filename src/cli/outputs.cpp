#include "outputs.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "console.hpp"
#include "hairline/files.hpp"

namespace hairline::cli {
namespace {

namespace fs = std::filesystem;

// One name for one file, whether it exists yet or not.
fs::path settled(const std::string& path) {
  std::error_code error;
  const fs::path whole = fs::absolute(path, error);
  fs::path full = fs::weakly_canonical(whole, error);
  return error || full.empty() ? whole.lexically_normal() : full;
}

bool same_file(const std::string& a, const std::string& b) {
  std::error_code error;
  return settled(a) == settled(b) || fs::equivalent(a, b, error);
}

// `path` lies in the folder `job` (a job may be a folder of masks).
bool lies_in(const std::string& path, const std::string& job) {
  std::error_code error;
  if (!fs::is_directory(job, error)) return false;
  const fs::path inside = settled(path), folder = settled(job);
  return std::mismatch(folder.begin(), folder.end(), inside.begin(), inside.end()).first == folder.end();
}

Error clash(const std::string& path, std::string found, std::string expected) {
  return {.kind = ErrorKind::usage,
          .file = path,
          .layer = {},
          .found = std::move(found),
          .expected = std::move(expected),
          .advice = "Choose another path."};
}

bool is_special(const std::string& path) {
  std::error_code error;
  const fs::file_status status = fs::status(path, error);
  return fs::exists(status) && !fs::is_regular_file(status) && !fs::is_directory(status);
}

// Devices such as /dev/null take any number of outputs.
bool same_output(const std::string& a, const std::string& b) {
  if (a == "-" || b == "-") return a == b;
  return !is_special(a) && same_file(a, b);
}

Result<void> try_outputs(const std::vector<std::string>& paths, const std::vector<std::string>& inputs) {
  for (std::size_t i = 0; i < paths.size(); ++i) {
    const std::string& path = paths[i];
    for (std::size_t j = 0; j < i; ++j)
      if (same_output(paths[j], path))
        return tl::unexpected(
            clash(path == "-" ? "standard output" : path, "two outputs would go to it", "a place of its own for each"));
    if (path == "-") continue;
    if (auto free = try_output(path, inputs); !free) return free;
  }
  return {};
}

Result<void> try_all(const std::vector<JobOutputs>& outputs, const std::vector<std::string>& inputs) {
  std::vector<std::string> paths;
  for (const JobOutputs& output : outputs)
    for (const std::string* path : {&output.json, &output.csv})
      if (!path->empty()) paths.push_back(*path);
  return try_outputs(paths, inputs);
}

std::string stem_of(const std::string& job) {
  fs::path path = settled(job);
  std::error_code error;
  return fs::is_directory(path, error) ? path.filename().string() : path.stem().string();
}

Result<std::string> in_folder(const std::string& folder, const std::string& job, const char* extension) {
  std::error_code error;
  if (folder.empty()) return std::string();
  if (!fs::is_directory(folder, error))
    return tl::unexpected(clash(folder == "-" ? "standard output" : folder, "several jobs, but this is no folder",
                                "a folder that exists, for one file per job"));
  return (fs::path(folder) / (stem_of(job) + extension)).string();
}

}  // namespace

Result<std::vector<JobOutputs>> settle_outputs(const std::vector<std::string>& jobs, const JobOutputs& asked,
                                               bool folders, const std::vector<std::string>& inputs) {
  if (!folders) {
    if (auto tried = try_all({asked}, inputs); !tried) return tl::unexpected(tried.error());
    return std::vector{asked};
  }
  std::vector<JobOutputs> outputs;
  for (const std::string& job : jobs) {
    const auto json = in_folder(asked.json, job, ".json"), csv = in_folder(asked.csv, job, ".csv");
    if (!json) return tl::unexpected(json.error());
    if (!csv) return tl::unexpected(csv.error());
    outputs.push_back({*json, *csv});
  }
  if (auto tried = try_all(outputs, inputs); !tried) return tl::unexpected(tried.error());
  return outputs;
}

Result<void> try_output(const std::string& path, const std::vector<std::string>& inputs) {
  for (const std::string& input : inputs)
    if (same_file(input, path) || lies_in(path, input))
      return tl::unexpected(clash(path, "the output would be written over or into an input", "another file"));
  return check_writable(path);
}

Result<void> write_output(const std::string& path, const std::string& text) {
  if (path.empty()) return {};
  return path == "-" ? print(text) : write_text(path, text);
}

Result<void> write_json_output(const std::string& path, const Report& report) {
  if (path.empty()) return {};
  if (path != "-") return write_text(path, [&report](const TextSink& sink) { write_json(report, sink); });
  Result<void> printed;
  write_json(report, [&printed](std::string_view part) {
    printed = print(part);
    return printed.has_value();
  });
  return printed;
}

}  // namespace hairline::cli
