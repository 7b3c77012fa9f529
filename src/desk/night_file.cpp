#include "night_file.hpp"

#include <map>

#include "../base/file_lock.hpp"
#include "../base/fingerprint.hpp"
#include "hairline/files.hpp"

namespace hairline::desk {
namespace {

namespace fs = std::filesystem;

Result<NightFile> parsed(const Folder& folder, const std::string& text) {
  auto queue = parse_queue(text, folder.queue_file());
  if (!queue) return tl::unexpected(queue.error());
  return NightFile{std::move(*queue), fingerprint(text)};
}

// What may be named, read as a name within the folder, and the path it stands for.
using Paths = std::map<std::string, std::string>;

Paths known_paths(const Folder& folder, const std::vector<std::string>& names, const std::vector<std::string>& queued) {
  Paths paths;
  for (const std::string& name : names) paths.emplace((folder.root() / name).string(), (folder.root() / name).string());
  for (const std::string& path : queued)
    paths.insert_or_assign((folder.root() / shown_name(folder, path)).string(), path);
  return paths;
}

std::vector<std::string> record_names(const Folder& folder) {
  std::vector<std::string> names;
  for (const FoundRecord& one : folder.records().value_or(std::vector<FoundRecord>()))
    names.push_back(fs::path(one.file).filename().string());
  return names;
}

// Puts the path in the place of the name.
Result<void> look_up(const Folder& folder, const Paths& paths, std::string& name) {
  const auto found = paths.find(name);
  if (found == paths.end())
    return tl::unexpected(Error{ErrorKind::not_found, fs::path(name).filename().string(),
                                "nothing of that name lies in " + folder.root().string(), "a job or a record of it",
                                "Look whether it was renamed or taken away."});
  name = found->second;
  return {};
}

Result<void> look_up_all(const Folder& folder, const Queue& now, Queue& wanted) {
  std::vector<std::string> jobs, records;
  for (const QueueJob& job : now.jobs) jobs.push_back(job.file);
  for (const QueuePrinter& printer : now.printers)
    if (!printer.record.empty()) records.push_back(printer.record);
  const Paths job_paths = known_paths(folder, folder.jobs(), jobs);
  const Paths record_paths = known_paths(folder, record_names(folder), records);
  for (QueueJob& job : wanted.jobs)
    if (auto found = look_up(folder, job_paths, job.file); !found) return found;
  for (QueuePrinter& printer : wanted.printers)
    if (!printer.record.empty())
      if (auto found = look_up(folder, record_paths, printer.record); !found) return found;
  return {};
}

}  // namespace

Result<NightFile> read_night(const Folder& folder) {
  const auto text = read_text(folder.queue_file());
  if (text) return parsed(folder, *text);
  if (text.error().kind != ErrorKind::not_found) return tl::unexpected(text.error());
  Queue none;
  none.times.zone.clear();
  return parsed(folder, write_queue(none, folder.root()));
}

std::string shown_name(const Folder& folder, const std::string& path) {
  const fs::path plain = fs::path(path).lexically_normal();
  return plain.parent_path() == folder.root() ? plain.filename().string() : plain.string();
}

Result<NightFile> change_night(const Folder& folder, const std::string& version, const std::string& wanted) {
  auto queue = parse_queue(wanted, folder.root() / "tonight");
  if (!queue) {
    queue.error().file = "tonight";
    return tl::unexpected(queue.error());
  }
  FileLock lock;
  if (auto taken = lock.take(folder.queue_file()); !taken) return tl::unexpected(taken.error());
  const auto now = read_night(folder);
  if (!now) return now;
  if (now->version != version)
    return tl::unexpected(Error{ErrorKind::mismatch, "tonight", "it was changed elsewhere meanwhile",
                                "a change of what is there now", "Look at it, and make your change again."});
  if (auto found = look_up_all(folder, now->queue, *queue); !found) return tl::unexpected(found.error());
  const std::string text = write_queue(*queue, folder.queue_file().parent_path());
  if (auto written = write_text(folder.queue_file(), text); !written) return tl::unexpected(written.error());
  return parsed(folder, text);
}

}  // namespace hairline::desk
