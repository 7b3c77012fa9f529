/// A file of no name that takes what would fill memory, and gives it back in parts.
#pragma once
#include <atomic>
#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <span>
#include <vector>

namespace hairline::risk {

/// Folders of temporary files that lie on a disk, best first: $TMPDIR, or /tmp and /var/tmp.
std::vector<std::filesystem::path> temporary_folders();

/// Made with the first write, in the first folder that takes it, and without a name: nothing is left behind, however
/// the program ends. Where it cannot be made or made longer, writes are refused from then on.
class RunFile {
 public:
  explicit RunFile(std::vector<std::filesystem::path> folders = temporary_folders()) : folders_(std::move(folders)) {}
  RunFile(const RunFile&) = delete;
  RunFile& operator=(const RunFile&) = delete;
  ~RunFile();
  /// Adds bytes at its end. Their place, or nothing where they cannot be written.
  std::optional<std::uint64_t> write(std::span<const std::byte> bytes);
  /// Bytes from a place on, and those behind them; from several threads at once. False where they cannot be read:
  /// damaged() tells so from then on.
  bool read(std::uint64_t place, std::span<std::byte> first, std::span<std::byte> second) const;
  bool damaged() const { return damaged_; }

 private:
  bool open();
  bool read(std::uint64_t place, std::span<std::byte> bytes) const;
  std::vector<std::filesystem::path> folders_;
  int file_ = -1;
  bool refused_ = false;
  std::uint64_t end_ = 0;
  mutable std::atomic<bool> damaged_{false};
};

}  // namespace hairline::risk
