#include "file_lock.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <charconv>
#include <chrono>
#include <optional>
#include <system_error>
#include <tuple>
#include <utility>

#include "output_file.hpp"

namespace hairline {
namespace {

namespace fs = std::filesystem;

constexpr std::chrono::seconds longest_wait{10};

Error no_lock(const fs::path& lock, int code) {
  return {ErrorKind::unwritable, lock.string(),
          fmt::format("the lock file cannot be made ({})", std::generic_category().message(code)),
          "a folder where a file may be made, for only one run may change the file beside it at a time",
          "Nothing was changed. Give yourself the right to write in the folder, or make room there."};
}

Error no_lock_file(const fs::path& lock) {
  return {ErrorKind::unwritable, lock.string(), "this is not a plain file", "a lock file, or no such file",
          "Nothing was changed. Remove or rename it."};
}

Error cancelled(const fs::path& file) {
  return {ErrorKind::cancelled, file.string(), "another run is changing it"};
}

// What the file holds: the number of a process; 0 where it is empty; none where it is something else.
std::optional<int> process_in(int descriptor) {
  char text[16];
  const ssize_t length = ::pread(descriptor, text, sizeof text, 0);
  if (length == 0) return 0;
  int process = 0;
  const auto read = std::from_chars(text, text + std::max<ssize_t>(length, 0), process);
  const bool whole = length > 0 && read.ptr + 1 == text + length && *read.ptr == '\n';
  return whole ? std::optional(process) : std::nullopt;
}

Error held(const fs::path& file, int descriptor) {
  const int process = process_in(descriptor).value_or(0);
  const std::string holder = process > 0 ? fmt::format("process {}", process) : "another process";
  return {ErrorKind::unwritable, file.string(),
          fmt::format("{} has been changing it for {} s", holder, longest_wait.count()), "one run at a time",
          fmt::format("Nothing was changed. Try again when {} has ended, or end it.", holder)};
}

// The lock file, made where it is missing; -1 and errno. A link there is not followed, a pipe not waited for. Another
// person's may be open for reading only: it can be locked all the same.
int open_lock(const fs::path& lock) {
  constexpr int flags = O_NOFOLLOW | O_NONBLOCK | O_NOCTTY | O_CLOEXEC;
  const int file = ::open(lock.c_str(), O_RDWR | O_CREAT | flags, 0666);
  if (file >= 0 || (errno != EACCES && errno != EPERM)) return file;
  const int code = errno, readable = ::open(lock.c_str(), O_RDONLY | flags);
  errno = code;
  return readable;
}

Result<int> open_plain(const fs::path& lock) {
  const int descriptor = open_lock(lock);
  if (descriptor < 0)
    return tl::unexpected(errno == ELOOP || errno == EISDIR ? no_lock_file(lock) : no_lock(lock, errno));
  struct ::stat info {};
  if (::fstat(descriptor, &info) == 0 && S_ISREG(info.st_mode)) return descriptor;
  ::close(descriptor);
  return tl::unexpected(no_lock_file(lock));
}

// 0, or the errno of what failed; EWOULDBLOCK after the longest wait, EINTR where it was cut short.
int wait_for(int descriptor, const Progress* progress) {
  const auto until = std::chrono::steady_clock::now() + longest_wait;
  while (::flock(descriptor, LOCK_EX | LOCK_NB) != 0) {
    if (errno != EWOULDBLOCK && errno != EINTR) return errno;
    if (progress != nullptr && progress->cancelled()) return EINTR;
    if (std::chrono::steady_clock::now() >= until) return EWOULDBLOCK;
    pause_ms(20);
  }
  return 0;
}

}  // namespace

FileLock::~FileLock() {
  if (descriptor_ >= 0) ::close(descriptor_);
}

Result<void> FileLock::take(const fs::path& file, const Progress* progress) {
  auto lock = behind_links(file);
  if (!lock) return tl::unexpected(lock.error());
  *lock += ".lock";
  for (;;) {
    const auto opened = open_plain(*lock);
    if (!opened) return tl::unexpected(opened.error());
    descriptor_ = *opened;
    const int failed = wait_for(descriptor_, progress);
    if (failed == EINTR) return tl::unexpected(cancelled(file));
    if (failed == EWOULDBLOCK) return tl::unexpected(held(file, descriptor_));
    guards_ = failed == 0;
    if (!guards_ || leads_to(*lock, descriptor_)) break;
    ::close(std::exchange(descriptor_, -1));
  }
  // A person's own file of that name is locked, but not written to; the lock also holds where this fails.
  const std::string process = fmt::format("{}\n", ::getpid());
  if (process_in(descriptor_) && ::ftruncate(descriptor_, 0) == 0)
    std::ignore = ::pwrite(descriptor_, process.data(), process.size(), 0);
  return {};
}

}  // namespace hairline
