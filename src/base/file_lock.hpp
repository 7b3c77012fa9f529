/// One run at a time: an advisory lock (flock) beside a file that is read, changed and written.
#pragma once
#include <filesystem>

#include "hairline/progress.hpp"
#include "hairline/result.hpp"

namespace hairline {

/// Held on FILE.lock beside the file its links lead to. The lock file stays, with the process id of its last holder.
class FileLock {
 public:
  FileLock() = default;
  FileLock(const FileLock&) = delete;
  FileLock& operator=(const FileLock&) = delete;
  ~FileLock();

  /// Waits up to 10 s for another holder. Fails with unwritable: the lock file cannot be made, is no plain file, or is
  /// held longer (the holder is named); cancelled.
  Result<void> take(const std::filesystem::path& file, const Progress* progress = nullptr);
  /// False where the file system knows no locks: two runs at once are then not kept apart.
  bool guards() const { return guards_; }

 private:
  int descriptor_ = -1;
  bool guards_ = true;
};

}  // namespace hairline
