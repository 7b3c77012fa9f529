/// The one way an output file is made: under a name of its own beside the target, and renamed over it when it is whole.
#pragma once
#include <cstdio>
#include <filesystem>
#include <string_view>

#include "hairline/result.hpp"

namespace hairline {

/// Where writing to a path leads, its links followed, also those to what does not exist yet. Fails with unwritable:
/// links that lead round in a circle.
Result<std::filesystem::path> behind_links(std::filesystem::path path);

/// Whether the path still leads to the file that was opened: somebody may have removed it.
bool leads_to(const std::filesystem::path& path, int descriptor);

/// Sleeps for a moment of a wait; false: a signal came, and the wait is over.
bool pause_ms(long ms);

/// A file on its way to `path`. Until `finish` it is ".hairline-XXXXXX.part" in the folder of the target, held under a
/// lock; what is not finished is removed. Devices, pipes and /dev/fd/N are written straight.
class OutputFile {
 public:
  OutputFile() = default;
  OutputFile(const OutputFile&) = delete;
  OutputFile& operator=(const OutputFile&) = delete;
  ~OutputFile();

  /// With the rights of the file that is there, else those the umask leaves; leftovers of killed runs in the folder
  /// are removed first. A pipe is waited for until somebody reads it, up to 10 s. Fails with unwritable, cancelled.
  Result<void> open(const std::filesystem::path& path);
  /// Adds to it. Fails with unwritable.
  Result<void> write(std::string_view part);
  /// Flushed to the disk and renamed. Fails with unwritable; what was there is then as it was.
  Result<void> finish();

  /// The same under another name in the folder of the target, and never over what is there: false, and it can be tried
  /// again.
  Result<bool> finish_as(const std::filesystem::path& path);

  std::FILE* file() const { return file_; }
  const std::filesystem::path& aside() const { return aside_; }  ///< empty where the target is written straight

 private:
  std::FILE* file_ = nullptr;
  std::filesystem::path path_, aside_, target_;
};

}  // namespace hairline
