#include "folder.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "../base/ascii.hpp"
#include "../base/fingerprint.hpp"
#include "hairline/check.hpp"
#include "hairline/files.hpp"

namespace hairline::desk {
namespace {

namespace fs = std::filesystem;

Error missing(const fs::path& folder, const std::string& name, const char* what) {
  return {ErrorKind::not_found, name, fmt::format("there is no such {} in {}", what, folder.string()),
          fmt::format("the name of a {} that lies there", what), "Look whether it was renamed or taken away."};
}

// Bytes that no file system and no page minds.
std::string harmless(const std::string& foreign) {
  const std::string last = foreign.substr(foreign.find_last_of("/\\") + 1);
  std::string name;
  for (const char c : valid_utf8(last)) name += static_cast<unsigned char>(c) < 32 || c == 127 || c == ':' ? '-' : c;
  while (!name.empty() && (name.front() == '.' || name.front() == ' ')) name.erase(0, 1);
  while (!name.empty() && (name.back() == '.' || name.back() == ' ')) name.pop_back();
  constexpr std::size_t most_bytes = 120;
  if (name.size() > most_bytes) {
    const std::string ending = beginning_of(fs::path(name).extension().string(), 16);
    name = beginning_of(name, most_bytes - ending.size()) + ending;
  }
  return name;
}

}  // namespace

Result<Folder> Folder::open(const fs::path& root) {
  std::error_code error;
  Folder folder;
  folder.root_ = fs::canonical(root, error);
  if (error || !fs::is_directory(folder.root_, error))
    return tl::unexpected(Error{ErrorKind::not_found, root.string(), "there is no such folder",
                                "a folder of jobs and records", "Make it, or name another."});
  if (auto made = folder.own(""); !made) return tl::unexpected(made.error());
  if (auto free = check_writable(folder.queue_file()); !free) return tl::unexpected(free.error());
  return folder;
}

Result<fs::path> Folder::own(const std::string& part) const {
  const fs::path path = root_ / "desk" / part;
  if (auto made = make_folder(path); !made) return tl::unexpected(made.error());
  return path;
}

Result<fs::path> Folder::own_file(const std::string& part, const std::string& name) const {
  auto folder = own(part);
  if (!folder) return folder;
  constexpr std::size_t most_bytes = 200;  // file systems take 255, with the ending
  return *folder / ((name.size() <= most_bytes ? name : fingerprint(name)) + ".json");
}

std::vector<std::string> Folder::jobs() const {
  std::vector<std::string> names;
  const auto found = jobs_in(root_.string());
  for (const std::string& path : found.value_or(std::vector<std::string>())) {
    const std::string name = fs::path(path).filename().string();
    if (name != "desk" && !name.starts_with('.')) names.push_back(name);
  }
  return names;
}

Result<fs::path> Folder::job(const std::string& name) const {
  const auto names = jobs();
  if (std::find(names.begin(), names.end(), name) == names.end()) return tl::unexpected(missing(root_, name, "job"));
  return root_ / name;
}

Result<std::vector<FoundRecord>> Folder::records() const {
  auto found = find_records(root_);
  if (found)
    std::erase_if(*found,
                  [](const FoundRecord& one) { return fs::path(one.file).filename().string().starts_with('.'); });
  return found;
}

Result<fs::path> Folder::record(const std::string& name) const {
  const auto found = records();
  if (!found) return tl::unexpected(found.error());
  for (const FoundRecord& one : *found)
    if (fs::path(one.file).filename() == name) return root_ / name;
  return tl::unexpected(missing(root_, name, "record"));
}

Result<fs::path> Folder::place_for(const std::string& foreign_name) const {
  auto places = places_for(foreign_name);
  if (!places) return tl::unexpected(places.error());
  return std::move(places->back());
}

Result<std::vector<fs::path>> Folder::namesakes(const std::string& foreign_name) const {
  auto places = places_for(foreign_name);
  if (places) places->pop_back();
  return places;
}

Result<std::vector<fs::path>> Folder::places_for(const std::string& foreign_name) const {
  const std::string name = harmless(foreign_name);
  if (name.empty() || name == "desk")
    return tl::unexpected(Error{ErrorKind::usage, foreign_name, "it has no name to keep it under", "a file name",
                                "Rename it, and drop it again."});
  const fs::path whole(name);
  std::error_code error;
  std::vector<fs::path> places = {root_ / whole};
  for (int i = 2; fs::exists(fs::symlink_status(places.back(), error)); ++i)
    places.push_back(root_ / fmt::format("{} {}{}", whole.stem().string(), i, whole.extension().string()));
  return places;
}

}  // namespace hairline::desk
