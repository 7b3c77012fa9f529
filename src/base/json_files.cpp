#include "json_files.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "hairline/files.hpp"

namespace hairline {
namespace fs = std::filesystem;

Result<std::vector<fs::path>> json_files_in(const fs::path& folder, const std::string& wanted) {
  std::vector<fs::path> files;
  std::error_code error;
  for (fs::directory_iterator entry(folder, error), end; !error && entry != end; entry.increment(error)) {
    std::error_code unknown;  // a link that leads nowhere is no folder
    if (entry->path().extension() == ".json" && !entry->is_directory(unknown)) files.push_back(entry->path());
  }
  if (error == std::errc::no_such_file_or_directory)
    return tl::unexpected(
        Error{ErrorKind::not_found, folder.string(), "there is no such folder", wanted, "Check the path."});
  if (error)
    return tl::unexpected(Error{ErrorKind::unreadable, folder.string(),
                                fmt::format("the folder cannot be read ({})", error.message()), wanted,
                                "Check its rights, and that it is a folder."});
  std::sort(files.begin(), files.end(),
            [](const fs::path& a, const fs::path& b) { return natural_less(a.native(), b.native()); });
  return files;
}

}  // namespace hairline
