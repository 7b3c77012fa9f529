#include "held_file.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <system_error>
#include <utility>

namespace hairline::archive {
namespace {

Error open_error(const std::filesystem::path& path, int code) {
  if (code == ENOENT || code == ENOTDIR)
    return {ErrorKind::not_found, path.string(), "there is no such file", "a file that exists", "Check the path."};
  return {ErrorKind::unreadable, path.string(),
          fmt::format("the file cannot be read ({})", std::generic_category().message(code)), "a file you may read",
          "Check the rights of the file and of its folder."};
}

std::int64_t nanoseconds(const struct ::timespec& time) {
  return std::int64_t{time.tv_sec} * 1'000'000'000 + time.tv_nsec;
}

}  // namespace

FileMark mark_of(const struct ::stat& info) {
  return {info.st_dev,
          info.st_ino,
          static_cast<std::uint64_t>(info.st_size),
          nanoseconds(info.st_mtim),
          nanoseconds(info.st_ctim),
          info.st_nlink};
}

bool differs(const FileMark& before, const FileMark& now) {
  return before.device != now.device || before.inode != now.inode || before.bytes != now.bytes ||
         before.written_ns != now.written_ns || (before.changed_ns != now.changed_ns && before.links == now.links);
}

std::chrono::nanoseconds age_of(const FileMark& mark) {
  return std::chrono::system_clock::now().time_since_epoch() - std::chrono::nanoseconds(mark.changed_ns);
}

std::string text_of(const FileMark& mark) {
  if (age_of(mark) < clock_tick) return {};
  return fmt::format("{} {} {} {} {}\n", mark.device, mark.inode, mark.bytes, mark.written_ns, mark.changed_ns);
}

Error changed_error(const std::string& file, std::optional<std::uint32_t> layer, std::string what) {
  return {ErrorKind::unreadable,
          file,
          what + " changed while it was read",
          "a job that stays as it is until it has been read",
          "Check again when nothing writes to it.",
          layer};
}

Result<HeldFile> HeldFile::open(const std::filesystem::path& path) {
  const int descriptor = ::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK);
  if (descriptor < 0) return tl::unexpected(open_error(path, errno));
  struct ::stat info {};
  const int failed = ::fstat(descriptor, &info) == 0 ? 0 : errno;
  HeldFile file(descriptor, mark_of(info));
  if (failed != 0) return tl::unexpected(open_error(path, failed));
  if (!S_ISREG(info.st_mode))
    return tl::unexpected(
        Error{ErrorKind::unreadable, path.string(), "this is not a plain file", "a file", "Name the file itself."});
  return file;
}

HeldFile::HeldFile(HeldFile&& other) noexcept : descriptor_(std::exchange(other.descriptor_, -1)), mark_(other.mark_) {}

HeldFile::~HeldFile() {
  if (descriptor_ >= 0) ::close(descriptor_);
}

bool HeldFile::changed() const {
  struct ::stat info {};
  return ::fstat(descriptor_, &info) != 0 || differs(mark_, mark_of(info));
}

std::int64_t HeldFile::read(std::uint64_t at, void* into, std::uint64_t bytes) const {
  std::uint64_t got = 0;
  while (got < bytes) {
    const ssize_t step =
        ::pread(descriptor_, static_cast<std::byte*>(into) + got, bytes - got, static_cast<off_t>(at + got));
    if (step < 0 && errno == EINTR) continue;
    if (step < 0) return -1;
    if (step == 0) break;
    got += static_cast<std::uint64_t>(step);
  }
  return static_cast<std::int64_t>(got);
}

}  // namespace hairline::archive
