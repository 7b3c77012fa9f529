#include "output_file.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <ctime>
#include <mutex>
#include <optional>
#include <set>
#include <system_error>
#include <utility>

#include "hairline/files.hpp"

namespace hairline {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view aside_begin = ".hairline-", aside_end = ".part";
constexpr std::size_t aside_letters = 6;
constexpr std::time_t leftover_after_s = 600;
constexpr int reader_wait_ms = 10000;

Error write_error(const fs::path& path, std::string found) {
  return {ErrorKind::unwritable, path.string(), std::move(found), "a place where a file may be written",
          "Choose another path, or make the folder and give yourself the right to write there."};
}

Error write_error(const fs::path& path, int code) {
  Error error = write_error(path, fmt::format("it cannot be written ({})", std::generic_category().message(code)));
  if (code == ENOSPC || code == EDQUOT) error.advice = "Make room there, or choose another path.";
  if (code == EFBIG) error.advice = "Raise the limit on the length of files (ulimit -f).";
  return error;
}

// N of /dev/fd/N and its like (/dev/stdout leads there).
std::optional<int> descriptor_of(const fs::path& path) {
  std::error_code error;
  const std::string name = path.filename().string();
  if (name.empty() || name.size() > 6 || name.find_first_not_of("0123456789") != std::string::npos) return {};
  if (!fs::equivalent(path.parent_path(), "/proc/self/fd", error)) return {};
  return std::atoi(name.c_str());
}

// Where an output goes.
struct Place {
  fs::path target;
  bool straight = false;         // a device or a pipe: never renamed over
  std::optional<::mode_t> mode;  // of the file that is there
};

Result<Place> place_of(const fs::path& path) {
  const auto refuse = [&](auto why) { return tl::unexpected(write_error(path, std::move(why))); };
  constexpr const char* a_folder = "this is a folder, not a file";
  if (path.filename().empty()) return refuse(a_folder);
  const auto target = behind_links(path);
  if (!target) return tl::unexpected(target.error());
  Place place{*target, descriptor_of(*target).has_value(), {}};
  struct ::stat info {};
  if (::stat(target->c_str(), &info) == 0) {
    if (S_ISDIR(info.st_mode)) return refuse(a_folder);
    if (::access(target->c_str(), W_OK) != 0) return refuse(errno);
    if (S_ISREG(info.st_mode)) place.mode = info.st_mode & 0777;
    if (S_ISCHR(info.st_mode) || S_ISFIFO(info.st_mode)) place.straight = true;
    if (!place.mode && !place.straight) return refuse("this is neither a file nor a pipe");
    return place;
  }
  if (errno != ENOENT && errno != ENOTDIR) return refuse(errno);
  std::error_code error;
  const fs::path folder = target->has_parent_path() ? target->parent_path() : fs::path(".");
  if (!fs::is_directory(folder, error)) return refuse(fmt::format("its folder {} does not exist", folder.string()));
  return place;
}

bool is_aside(const std::string& name) {
  return name.size() == aside_begin.size() + aside_letters + aside_end.size() && name.starts_with(aside_begin) &&
         name.ends_with(aside_end);
}

// A file nobody has touched for long and nobody holds.
bool is_leftover(const fs::path& path) {
  struct ::stat info {};
  if (::lstat(path.c_str(), &info) != 0 || !S_ISREG(info.st_mode)) return false;
  if (std::time(nullptr) - info.st_mtime < leftover_after_s) return false;
  const int file = ::open(path.c_str(), O_RDONLY | O_NOFOLLOW | O_NONBLOCK | O_CLOEXEC);
  if (file < 0) return false;
  const bool free = ::flock(file, LOCK_EX | LOCK_NB) == 0;
  ::close(file);
  return free;
}

// Removes what killed runs left, once per run and folder.
void remove_leftovers(const fs::path& folder) {
  static std::mutex guard;
  static std::set<fs::path> done;
  std::error_code error;
  {
    const std::lock_guard lock(guard);
    if (!done.insert(fs::absolute(folder, error)).second) return;
  }
  for (fs::directory_iterator entry(folder, error), end; !error && entry != end; entry.increment(error))
    if (is_aside(entry->path().filename().string()) && is_leftover(entry->path())) ::unlink(entry->path().c_str());
}

std::string aside_name() {
  std::string name(aside_begin);
  for (std::size_t i = 0; i < aside_letters; ++i)
    name += "abcdefghijklmnopqrstuvwxyz0123456789"[::arc4random_uniform(36)];
  return name.append(aside_end);
}

// The new file, or -1 and errno. A file system without locks gives none, and the file is none the worse for it.
int open_aside(const Place& place, fs::path& aside) {
  const fs::path folder = place.target.parent_path();
  remove_leftovers(folder.empty() ? "." : folder);
  int file = -1;
  do {
    aside = folder / aside_name();
    file = ::open(aside.c_str(), O_RDWR | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, place.mode.value_or(0666));
  } while (file < 0 && errno == EEXIST);
  if (file < 0) return file;
  ::flock(file, LOCK_EX | LOCK_NB);
  if (place.mode) ::fchmod(file, *place.mode);
  return file;
}

// A device, a descriptor, or a pipe once it has a reader; -1 and errno.
int open_straight(const fs::path& target) {
  if (const auto descriptor = descriptor_of(target)) return ::fcntl(*descriptor, F_DUPFD_CLOEXEC, 0);
  int file = -1;
  for (int waited = 0;; waited += 50) {
    file = ::open(target.c_str(), O_WRONLY | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
    if (file >= 0 || errno != ENXIO || waited >= reader_wait_ms) break;
    if (pause_ms(50)) continue;
    errno = EINTR;
    return -1;
  }
  if (file >= 0) ::fcntl(file, F_SETFL, ::fcntl(file, F_GETFL) & ~O_NONBLOCK);
  return file;
}

Error open_error(const fs::path& path, bool straight) {
  const int code = errno;
  if (straight && code == ENXIO)
    return {ErrorKind::unwritable, path.string(),
            fmt::format("this is a pipe, and nobody has read it for {} s", reader_wait_ms / 1000),
            "a reader at its other end", "Start the reader first, or choose another path."};
  if (straight && code == EINTR) return {ErrorKind::cancelled, path.string()};
  return write_error(path, code);
}

}  // namespace

Result<fs::path> behind_links(fs::path path) {
  std::error_code error;
  constexpr int most_links = 40;  // as the system itself
  for (int followed = 0; fs::is_symlink(path, error); ++followed) {
    if (descriptor_of(path)) break;
    if (followed == most_links) return tl::unexpected(write_error(path, "its links lead round in a circle"));
    const fs::path to = fs::read_symlink(path, error);
    if (error) return tl::unexpected(write_error(path, error.value()));
    path = path.parent_path() / to;
  }
  return path;
}

bool leads_to(const fs::path& path, int descriptor) {
  struct ::stat here {
  }, held{};
  return ::lstat(path.c_str(), &here) == 0 && ::fstat(descriptor, &held) == 0 && here.st_dev == held.st_dev &&
         here.st_ino == held.st_ino;
}

bool pause_ms(long ms) {
  const ::timespec time{ms / 1000, ms % 1000 * 1000000};
  return ::nanosleep(&time, nullptr) == 0;
}

OutputFile::~OutputFile() {
  if (!aside_.empty() && file_ != nullptr && leads_to(aside_, ::fileno(file_))) ::unlink(aside_.c_str());
  if (file_ != nullptr) std::fclose(file_);
}

Result<void> OutputFile::open(const fs::path& path) {
  const auto place = place_of(path);
  if (!place) return tl::unexpected(place.error());
  path_ = path;
  target_ = place->target;
  const int file = place->straight ? open_straight(target_) : open_aside(*place, aside_);
  if (file < 0) return tl::unexpected(open_error(path, place->straight));
  file_ = ::fdopen(file, place->straight ? "wb" : "w+b");
  if (file_ != nullptr) return {};
  const int code = errno;
  if (!place->straight) ::unlink(aside_.c_str());
  ::close(file);
  return tl::unexpected(write_error(path, code));
}

Result<void> OutputFile::write(std::string_view part) {
  if (std::fwrite(part.data(), 1, part.size(), file_) == part.size()) return {};
  return tl::unexpected(write_error(path_, errno));
}

Result<void> OutputFile::finish() {
  if (std::fflush(file_) != 0) return tl::unexpected(write_error(path_, errno));
  if (!aside_.empty()) {
    if (::fsync(::fileno(file_)) != 0 && errno != EINVAL) return tl::unexpected(write_error(path_, errno));
    if (!leads_to(aside_, ::fileno(file_)))
      return tl::unexpected(write_error(path_, fmt::format("{}, in which it was written, is gone", aside_.string())));
    if (std::rename(aside_.c_str(), target_.c_str()) != 0) return tl::unexpected(write_error(path_, errno));
    aside_.clear();
  }
  if (std::fclose(std::exchange(file_, nullptr)) != 0) return tl::unexpected(write_error(path_, errno));
  return {};
}

Result<bool> OutputFile::finish_as(const fs::path& path) {
  if (std::fflush(file_) != 0 || (::fsync(::fileno(file_)) != 0 && errno != EINVAL))
    return tl::unexpected(write_error(path, errno));
  if (::renameat2(AT_FDCWD, aside_.c_str(), AT_FDCWD, path.c_str(), RENAME_NOREPLACE) != 0) {
    if (errno == EEXIST) return false;
    if (errno != EINVAL) return tl::unexpected(write_error(path, errno));
    std::error_code error;  // a file system that cannot tell: looked first, then renamed
    if (fs::exists(fs::symlink_status(path, error))) return false;
    if (std::rename(aside_.c_str(), path.c_str()) != 0) return tl::unexpected(write_error(path, errno));
  }
  aside_.clear();
  if (std::fclose(std::exchange(file_, nullptr)) != 0) return tl::unexpected(write_error(path, errno));
  return true;
}

Result<void> check_writable(const fs::path& path) {
  const auto place = place_of(path);
  if (!place) return tl::unexpected(place.error());
  if (place->straight) return {};
  OutputFile trial;  // only trying tells about read-only and full file systems; what it makes goes again
  return trial.open(path);
}

Result<void> write_text(const fs::path& path, std::string_view text) {
  return write_text(path, [text](const TextSink& sink) { sink(text); });
}

Result<void> write_text(const fs::path& path, const TextSource& source) {
  OutputFile output;
  if (auto opened = output.open(path); !opened) return opened;
  Result<void> written;
  source([&](std::string_view part) {
    if (written) written = output.write(part);
    return written.has_value();
  });
  return written ? output.finish() : written;
}

}  // namespace hairline
