#include "outputs.hpp"

#include <fmt/format.h>
#include <sys/stat.h>

#include <filesystem>
#include <set>
#include <utility>

#include "../base/output_file.hpp"
#include "console.hpp"
#include "hairline/files.hpp"

namespace hairline::cli {
namespace {

namespace fs = std::filesystem;

// One name for one file, whether it exists yet or not.
fs::path settled(const std::string& path) {
  std::error_code error;
  const fs::path whole = fs::absolute(behind_links(path).value_or(path), error);
  fs::path full = fs::weakly_canonical(whole, error);
  return error || full.empty() ? whole.lexically_normal() : full;
}

// Files by all that makes two paths one: the settled path, and device and number where it exists.
class Files {
 public:
  // False: it is there already.
  bool add(const std::string& path) {
    const bool new_path = paths_.insert(settled(path)).second, new_file = add_numbers(path);
    return new_path && new_file;
  }
  // It is one of them, or lies in one that is a folder (a job may be a folder of masks).
  bool hold(const std::string& path) const {
    struct ::stat info {};
    if (::stat(path.c_str(), &info) == 0 && numbers_.contains({info.st_dev, info.st_ino})) return true;
    for (fs::path at = settled(path);; at = at.parent_path()) {
      if (paths_.contains(at)) return true;
      if (at == at.parent_path()) return false;
    }
  }

 private:
  bool add_numbers(const std::string& path) {
    struct ::stat info {};
    return ::stat(path.c_str(), &info) != 0 || numbers_.insert({info.st_dev, info.st_ino}).second;
  }
  std::set<fs::path> paths_;
  std::set<std::pair<::dev_t, ::ino_t>> numbers_;
};

Error clash(const std::string& path, std::string found, std::string expected) {
  return {ErrorKind::usage, path, std::move(found), std::move(expected), "Choose another path."};
}

// Devices such as /dev/null take any number of outputs.
bool is_device(const std::string& path) {
  std::error_code error;
  return fs::is_character_file(path, error);
}

}  // namespace

Result<void> try_outputs(const std::vector<std::string>& paths, const std::vector<std::string>& inputs) {
  Files read, written;
  for (const std::string& input : inputs) read.add(input);
  for (const std::string& path : paths) {
    const bool out = path == "-";
    if (!out && is_device(path)) continue;
    if (!written.add(out ? "/dev/stdout" : path))
      return tl::unexpected(
          clash(out ? "standard output" : path, "two outputs would go to it", "a place of its own for each"));
    if (out) continue;
    if (read.hold(path))
      return tl::unexpected(clash(path, "the output would be written over or into an input", "another file"));
    if (auto free = check_writable(path); !free) return free;
  }
  return {};
}

std::string stem_of(const std::string& job) {
  fs::path path = settled(job);
  std::error_code error;
  return fs::is_directory(path, error) ? path.filename().string() : path.stem().string();
}

namespace {

Result<void> try_all(const std::vector<JobOutputs>& outputs, const std::vector<std::string>& inputs) {
  std::vector<std::string> paths;
  for (const JobOutputs& output : outputs)
    for (const std::string* path : {&output.json, &output.csv, &output.html})
      if (!path->empty()) paths.push_back(*path);
  return try_outputs(paths, inputs);
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

CLI::Option* add_output(CLI::App& app, const std::string& name, std::string& path, const std::string& help,
                        const char* type) {
  const auto check = [type = std::string(type)](std::string& text) -> std::string {
    return text.empty() ? fmt::format("\"\" is no name; expected a {}", type == "DIR" ? "folder" : "file") : "";
  };
  return app.add_option(name, path, help)->check(CLI::Validator(check, ""))->type_name(type);
}

Result<std::vector<JobOutputs>> settle_outputs(const std::vector<std::string>& jobs, const JobOutputs& asked,
                                               bool folders, const std::vector<std::string>& inputs) {
  if (!folders) {
    if (auto tried = try_all({asked}, inputs); !tried) return tl::unexpected(tried.error());
    return std::vector{asked};
  }
  std::vector<JobOutputs> outputs;
  for (const std::string& job : jobs) {
    const auto json = in_folder(asked.json, job, ".json"), csv = in_folder(asked.csv, job, ".csv"),
               html = in_folder(asked.html, job, ".html");
    for (const auto* path : {&json, &csv, &html})
      if (!*path) return tl::unexpected(path->error());
    outputs.push_back({*json, *csv, *html});
  }
  if (auto tried = try_all(outputs, inputs); !tried) return tl::unexpected(tried.error());
  return outputs;
}

Result<void> keep_from(const std::vector<fs::path>& outputs, const std::vector<std::string>& inputs) {
  Files written;
  for (const fs::path& path : outputs) written.add(path.string());
  for (const std::string& input : inputs)
    if (written.hold(input))
      return tl::unexpected(clash(input, "an output would be written over this input", "outputs elsewhere"));
  return {};
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
