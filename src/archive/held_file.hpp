// A file opened once and read by many threads, and the marks by which a change of it is noticed.
#pragma once
#include <sys/stat.h>

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <optional>

#include "hairline/result.hpp"

namespace hairline::archive {

/// What tells one state of a file from another.
struct FileMark {
  std::uint64_t device = 0, inode = 0, bytes = 0;
  std::int64_t written_ns = 0;  ///< time of the last writing, since the epoch
  std::int64_t changed_ns = 0;  ///< the same for writing, rights, names and links; no program can set it back
  std::uint64_t links = 0;
};
FileMark mark_of(const struct ::stat& info);
/// Another file, or the same one written anew. A name more or less (another file was renamed over this one) is no
/// change.
bool differs(const FileMark& before, const FileMark& now);

/// A file system's clock ticks every few milliseconds; of two writings within one tick the second leaves no mark.
inline constexpr std::chrono::nanoseconds clock_tick = std::chrono::milliseconds(20);
/// How long ago the file was last changed; less than nothing where it is dated after now.
std::chrono::nanoseconds age_of(const FileMark& mark);
/// All of a mark but the number of links, as text; empty where it is younger than a tick.
std::string text_of(const FileMark& mark);

/// "changed while it was read", with what to do.
Error changed_error(const std::string& file, std::optional<std::uint32_t> layer, std::string what);

class HeldFile {
 public:
  /// Fails with not_found, unreadable (rights; not a plain file). Never waits for a pipe.
  static Result<HeldFile> open(const std::filesystem::path& path);
  HeldFile(HeldFile&& other) noexcept;
  HeldFile& operator=(HeldFile&&) = delete;
  ~HeldFile();

  const FileMark& mark() const { return mark_; }
  /// Has been written since it was opened.
  bool changed() const;
  /// Up to `bytes` bytes from `at`: how many there were, or -1 (errno says why). Safe from many threads.
  std::int64_t read(std::uint64_t at, void* into, std::uint64_t bytes) const;

 private:
  HeldFile(int descriptor, const FileMark& mark) : descriptor_(descriptor), mark_(mark) {}
  int descriptor_;
  FileMark mark_;
};

}  // namespace hairline::archive
