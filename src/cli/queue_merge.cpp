// queue merge: the shares of a queue that several machines checked, as one night.
#include <algorithm>
#include <filesystem>
#include <map>
#include <set>

#include "hairline/files.hpp"
#include "hairline/night.hpp"
#include "night_outputs.hpp"
#include "night_times.hpp"
#include "outputs.hpp"

namespace hairline::cli {
namespace {

namespace fs = std::filesystem;

struct Options {
  std::vector<std::string> folders;
  NightTimes times;
  std::string today;
  NightOutputs outputs;
  Judging judging;
};

// Files of shares in a folder, by name.
Result<std::vector<fs::path>> find_shares(const std::string& folder) {
  std::vector<fs::path> found;
  std::error_code error;
  for (fs::directory_iterator entry(folder, error), end; !error && entry != end; entry.increment(error)) {
    const std::string name = entry->path().filename().string();
    if (name.starts_with("queue.") && name.ends_with(".json") && name.find("-of-") != std::string::npos)
      found.push_back(entry->path());
  }
  std::sort(found.begin(), found.end());
  if (!found.empty()) return found;
  return tl::unexpected(Error{
      ErrorKind::not_found, folder,
      error ? "the folder cannot be read (" + error.message() + ")" : std::string("there is no share of a queue in it"),
      "queue.1-of-N.json and its like", "Name the folders that the shares were given with --json."});
}

struct Shares {
  std::vector<std::string> files;
  std::vector<CheckedQueue> nights;
  std::map<std::uint32_t, fs::path> folders;  // of each job, by its place
};

Result<Shares> read_shares(const std::vector<std::string>& folders) {
  Shares shares;
  for (const std::string& folder : folders) {
    const auto found = find_shares(folder);
    if (!found) return tl::unexpected(found.error());
    for (const fs::path& file : *found) {
      const auto text = read_text(file, std::uint64_t{1} << 30);
      if (!text) return tl::unexpected(text.error());
      auto night = parse_checked_queue(*text, file.string());
      if (!night) return tl::unexpected(night.error());
      for (const QueueEntry& entry : night->entries) shares.folders.emplace(entry.place, folder);
      shares.files.push_back(file.string());
      shares.nights.push_back(std::move(*night));
    }
  }
  return shares;
}

Result<void> copy_beside(const fs::path& from, const fs::path& folder) {
  const fs::path to = folder / from.filename();
  std::error_code error;
  if (fs::equivalent(from, to, error)) return {};
  const auto text = read_text(from, std::uint64_t{1} << 30);
  return text ? write_text(to, *text) : tl::unexpected(text.error());
}

// Where the files of its jobs go.
std::vector<std::string> copies_of(const std::vector<CheckedQueue>& nights, const NightOutputs& outputs) {
  std::set<std::string> paths;
  const auto add = [&](const std::string& folder, const std::string& name) {
    if (!folder.empty() && !name.empty()) paths.insert((fs::path(folder) / name).string());
  };
  for (const CheckedQueue& night : nights)
    for (const QueueEntry& entry : night.entries)
      for (const QueueRow& row : entry.rows) {
        add(outputs.json_folder, row.report);
        add(outputs.html_folder, row.page);
      }
  return {paths.begin(), paths.end()};
}

Result<void> copy_files(const CheckedQueue& night, const Shares& shares, const NightOutputs& outputs) {
  for (const QueueEntry& entry : night.entries)
    for (const QueueRow& row : entry.rows) {
      const fs::path& from = shares.folders.at(entry.place);
      if (!outputs.json_folder.empty() && !row.report.empty())
        if (auto copied = copy_beside(from / row.report, outputs.json_folder); !copied) return copied;
      if (!outputs.html_folder.empty() && !row.page.empty())
        if (auto copied = copy_beside(from / row.page, outputs.html_folder); !copied) return copied;
    }
  return {};
}

int run(const Options& options, const Context& context) {
  auto shares = read_shares(options.folders);
  if (!shares) return fail(shares.error());
  if (auto free = settle_night(options.outputs, {}, copies_of(shares->nights, options.outputs), shares->files); !free)
    return fail(free.error());
  for (CheckedQueue& night : shares->nights)
    if (auto settled = settle_times(options.times, options.today, night.times); !settled) return fail(settled.error());
  const auto night = merge_shards(std::move(shares->nights));
  if (!night) return fail(night.error());
  if (auto copied = copy_files(*night, *shares, options.outputs); !copied) return fail(copied.error());
  return tell_night(*night, options.outputs, options.judging, context);
}

}  // namespace

void add_queue_merge(CLI::App& app, Context& context) {
  CLI::App& command = add_command(app, "merge", "One table of the shares that several machines checked",
                                  "  hairline queue merge night\n"
                                  "  hairline queue merge bench-1 bench-2 --json night --html night");
  Options& options = options_of(command, context, run);
  command.add_option("folder", options.folders, "Folders that shares were given with --json")
      ->required()
      ->type_name("DIR");
  add_night_times(command, options.times);
  add_night_outputs(command, options.outputs);
  add_fail_on(command, options.judging);
  add_today(command, options.today, "Date a time of day is taken to be on");
}

}  // namespace hairline::cli
