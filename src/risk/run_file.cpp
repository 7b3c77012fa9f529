#include "run_file.hpp"

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/uio.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <string>
#if defined(__linux__)
#include <linux/magic.h>
#include <sys/vfs.h>
#endif

namespace hairline::risk {
namespace {

// What is written to a file system in memory saves none.
bool on_disk(const std::filesystem::path& folder) {
#if defined(__linux__)
  struct statfs system {};
  return statfs(folder.c_str(), &system) == 0 && system.f_type != TMPFS_MAGIC && system.f_type != RAMFS_MAGIC;
#else
  return !folder.empty();
#endif
}

int open_nameless(const std::filesystem::path& folder) {
#if defined(O_TMPFILE)
  if (const int file = ::open(folder.c_str(), O_TMPFILE | O_RDWR | O_EXCL | O_CLOEXEC, 0600); file >= 0) return file;
#endif
  std::string name = folder / ".hairline-runs-XXXXXX";
  const int file = mkstemp(name.data());
  if (file < 0) return -1;
  fcntl(file, F_SETFD, FD_CLOEXEC);
  unlink(name.c_str());
  return file;
}

// A write beyond the limit of the shell would end the program.
bool may_grow_to(std::uint64_t bytes) {
  rlimit limit{};
  return getrlimit(RLIMIT_FSIZE, &limit) == 0 && (limit.rlim_cur == RLIM_INFINITY || bytes <= limit.rlim_cur);
}

}  // namespace

std::vector<std::filesystem::path> temporary_folders() {
  std::vector<std::filesystem::path> folders = {"/tmp", "/var/tmp"};
  if (const char* named = std::getenv("TMPDIR"); named != nullptr && *named != '\0') folders = {named};
  std::erase_if(folders, [](const auto& folder) { return !on_disk(folder); });
  return folders;
}

RunFile::~RunFile() {
  if (file_ >= 0) close(file_);
}

bool RunFile::open() {
  for (auto folder = folders_.begin(); file_ < 0 && folder != folders_.end(); ++folder) file_ = open_nameless(*folder);
  return file_ >= 0;
}

std::optional<std::uint64_t> RunFile::write(std::span<const std::byte> bytes) {
  refused_ = refused_ || !may_grow_to(end_ + bytes.size()) || !open();
  const std::uint64_t place = end_;
  for (std::size_t done = 0; !refused_ && done < bytes.size();) {
    const ssize_t more = pwrite(file_, bytes.data() + done, bytes.size() - done, static_cast<off_t>(place + done));
    if (more > 0) done += static_cast<std::size_t>(more);
    if (more == 0 || (more < 0 && errno != EINTR)) refused_ = true;
  }
  if (refused_) return std::nullopt;
  end_ += bytes.size();
  return place;
}

bool RunFile::read(std::uint64_t place, std::span<std::byte> first, std::span<std::byte> second) const {
  if (first.empty() && second.empty()) return true;
  const iovec both[2] = {{first.data(), first.size()}, {second.data(), second.size()}};
  const ssize_t all = preadv(file_, both, 2, static_cast<off_t>(place));
  if (all == static_cast<ssize_t>(first.size() + second.size())) return true;
  return read(place, first) && read(place + first.size(), second);
}

bool RunFile::read(std::uint64_t place, std::span<std::byte> bytes) const {
  for (std::size_t done = 0; done < bytes.size();) {
    const ssize_t more = pread(file_, bytes.data() + done, bytes.size() - done, static_cast<off_t>(place + done));
    if (more > 0) done += static_cast<std::size_t>(more);
    if (more == 0 || (more < 0 && errno != EINTR)) {
      damaged_ = true;
      return false;
    }
  }
  return true;
}

}  // namespace hairline::risk
