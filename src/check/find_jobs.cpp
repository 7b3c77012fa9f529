// The jobs of a queue: archives, folders of archives, and lists of paths.
#include <algorithm>
#include <filesystem>
#include <sstream>

#include "../base/ascii.hpp"
#include "hairline/check.hpp"
#include "hairline/files.hpp"

namespace hairline {
namespace {

namespace fs = std::filesystem;

bool has_extension(const fs::path& path, std::string_view wanted) {
  return small_letters(path.extension().string()) == wanted;
}

// A folder archive of our own, or a folder with masks in it.
bool is_job_folder(const fs::path& path) {
  std::error_code error;
  if (fs::is_regular_file(path / "manifest.json", error)) return true;
  for (fs::directory_iterator entry(path, error), end; !error && entry != end; entry.increment(error))
    if (has_extension(entry->path(), ".png")) return true;
  return false;
}

Result<std::vector<std::string>> jobs_of_list(const std::string& list) {
  std::vector<std::string> jobs;
  auto text = read_text(list, 1u << 20);
  if (!text) return tl::unexpected(text.error());
  std::istringstream lines(without_byte_order_mark(std::move(*text)));
  for (std::string line; std::getline(lines, line);) {
    if (!line.empty() && line.back() == '\r') line.pop_back();
    if (line.empty() || line.front() == '#') continue;
    jobs.push_back((fs::path(list).parent_path() / line).string());
  }
  return jobs;
}

}  // namespace

Result<std::vector<std::string>> jobs_in(const std::string& folder) {
  std::vector<std::string> found;
  std::error_code error;
  for (fs::directory_iterator entry(folder, error), end; !error && entry != end; entry.increment(error)) {
    const fs::path& path = entry->path();
    const bool archive = has_extension(path, ".zip") || has_extension(path, ".3mf");
    std::error_code unknown;  // a link that leads nowhere is no folder
    if (archive || (fs::is_directory(path, unknown) && is_job_folder(path))) found.push_back(path.string());
  }
  if (error)
    return tl::unexpected(Error{ErrorKind::unreadable, folder, "the folder cannot be read (" + error.message() + ")",
                                "a folder you may read", "Check its rights."});
  std::sort(found.begin(), found.end(), natural_less);
  return found;
}

Result<std::vector<std::string>> find_jobs(const std::vector<std::string>& paths) {
  std::vector<std::string> jobs;
  for (const std::string& path : paths) {
    std::error_code error;
    Result<std::vector<std::string>> found(std::vector{path});
    if (fs::is_directory(path, error) && !is_job_folder(path))
      found = jobs_in(path);
    else if (has_extension(path, ".txt"))
      found = jobs_of_list(path);
    if (!found) return tl::unexpected(found.error());
    jobs.insert(jobs.end(), found->begin(), found->end());
  }
  if (!jobs.empty()) return jobs;
  return tl::unexpected(Error{ErrorKind::invalid, paths.front(), "there is no job in it",
                              "archives (.zip, .3mf, or folders of masks), or a list of them", "Check the path."});
}

}  // namespace hairline
