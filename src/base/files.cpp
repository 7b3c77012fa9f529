#include "hairline/files.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdio>
#include <memory>
#include <system_error>

namespace hairline {
namespace {

namespace fs = std::filesystem;

struct CloseFile {
  void operator()(std::FILE* file) const { std::fclose(file); }
};
using File = std::unique_ptr<std::FILE, CloseFile>;

std::string reason(int code) {
  return std::generic_category().message(code);
}

Error read_error(const fs::path& path, int code) {
  if (code == ENOENT || code == ENOTDIR)
    return {.kind = ErrorKind::not_found,
            .file = path.string(),
            .layer = {},
            .found = "there is no such file",
            .expected = "a file that exists",
            .advice = "Check the path."};
  return {.kind = ErrorKind::unreadable,
          .file = path.string(),
          .layer = {},
          .found = fmt::format("it cannot be read ({})", reason(code)),
          .expected = "a file you may read",
          .advice = "Check the rights of the file and of its folder."};
}

Error not_a_file(const fs::path& path, bool folder) {
  return {.kind = ErrorKind::unreadable,
          .file = path.string(),
          .layer = {},
          .found = folder ? "this is a folder" : "this is not a plain file",
          .expected = "a file",
          .advice = "Name the file itself."};
}

Error write_error(const fs::path& path, std::string found) {
  return {.kind = ErrorKind::unwritable,
          .file = path.string(),
          .layer = {},
          .found = std::move(found),
          .expected = "a place where a file may be written",
          .advice = "Choose another path, or make the folder and give yourself the right to write there."};
}

Error write_error(const fs::path& path, int code) {
  return write_error(path, fmt::format("it cannot be written ({})", reason(code)));
}

fs::path part_path(const fs::path& path) {
  fs::path part = path;
  part += ".part";
  return part;
}

// A link is written through, not replaced.
fs::path behind_links(const fs::path& path) {
  std::error_code error;
  if (!fs::is_symlink(path, error)) return path;
  const fs::path target = fs::canonical(path, error);
  return error ? path : target;
}

// Devices and pipes (/dev/null, /dev/stdout) must never be renamed over.
bool is_special(const fs::file_status& status) {
  return fs::exists(status) && !fs::is_regular_file(status) && !fs::is_directory(status);
}

// 0 or the errno of what failed.
int write_all(const fs::path& path, const TextSource& source, bool keep_safe) {
  File file(std::fopen(path.c_str(), "wb"));
  if (!file) return errno;
  int failed = 0;
  source([&](std::string_view part) {
    if (failed == 0 && std::fwrite(part.data(), 1, part.size(), file.get()) != part.size()) failed = errno;
    return failed == 0;
  });
  if (failed != 0) return failed;
  if (std::fflush(file.get()) != 0) return errno;
  if (keep_safe && ::fsync(::fileno(file.get())) != 0 && errno != EINVAL) return errno;
  return std::fclose(file.release()) == 0 ? 0 : errno;
}

}  // namespace

Result<std::string> read_text(const fs::path& path, std::uint64_t most_bytes) {
  struct ::stat info {};
  if (::stat(path.c_str(), &info) != 0) return tl::unexpected(read_error(path, errno));
  if (!S_ISREG(info.st_mode)) return tl::unexpected(not_a_file(path, S_ISDIR(info.st_mode)));
  const auto too_large = [&] {
    return tl::unexpected(Error{.kind = ErrorKind::limit,
                                .file = path.string(),
                                .layer = {},
                                .found = fmt::format("it is larger than {} bytes", most_bytes),
                                .expected = "a smaller file",
                                .advice = "Check that this is the right file."});
  };
  if (static_cast<std::uint64_t>(info.st_size) > most_bytes) return too_large();
  const File file(std::fopen(path.c_str(), "rb"));
  if (!file) return tl::unexpected(read_error(path, errno));
  std::string text;
  text.reserve(static_cast<std::size_t>(info.st_size));
  char block[1 << 16];
  while (const std::size_t got = std::fread(block, 1, sizeof block, file.get())) {
    text.append(block, got);
    if (text.size() > most_bytes) return too_large();
  }
  if (std::ferror(file.get())) return tl::unexpected(read_error(path, errno));
  return text;
}

Result<void> check_writable(const fs::path& path) {
  std::error_code error;
  const fs::file_status status = fs::status(path, error);
  if (fs::is_directory(status) || path.filename().empty())
    return tl::unexpected(write_error(path, "this is a folder, not a file"));
  if (fs::exists(status) && ::access(path.c_str(), W_OK) != 0) return tl::unexpected(write_error(path, errno));
  if (is_special(status)) return {};
  const fs::path target = behind_links(path);
  const fs::path folder = target.has_parent_path() ? target.parent_path() : fs::path(".");
  if (!fs::is_directory(folder, error))
    return tl::unexpected(write_error(path, fmt::format("its folder {} does not exist", folder.string())));
  // Only trying tells about read-only and full file systems; what the trial creates goes again.
  const fs::path part = part_path(target);
  int file = ::open(part.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
  const bool created = file >= 0;
  if (!created && errno == EEXIST) file = ::open(part.c_str(), O_WRONLY | O_CLOEXEC);
  if (file < 0) return tl::unexpected(write_error(path, errno));
  ::close(file);
  if (created) ::unlink(part.c_str());
  return {};
}

Result<void> write_text(const fs::path& path, std::string_view text) {
  return write_text(path, [text](const TextSink& sink) { sink(text); });
}

Result<void> write_text(const fs::path& path, const TextSource& source) {
  if (auto writable = check_writable(path); !writable) return writable;
  std::error_code error;
  const fs::file_status before = fs::status(path, error);
  if (is_special(before)) {
    const int failed = write_all(path, source, false);
    if (failed != 0) return tl::unexpected(write_error(path, failed));
    return {};
  }
  const fs::path target = behind_links(path), part = part_path(target);
  int failed = write_all(part, source, true);
  if (failed == 0 && fs::exists(before)) fs::permissions(part, before.permissions(), error);
  if (failed == 0 && std::rename(part.c_str(), target.c_str()) != 0) failed = errno;
  if (failed == 0) return {};
  ::unlink(part.c_str());
  return tl::unexpected(write_error(path, failed));
}

Result<void> make_folder(const fs::path& path) {
  std::error_code failure;
  fs::create_directories(path, failure);
  if (!failure && fs::is_directory(path, failure)) return {};
  return tl::unexpected(Error{ErrorKind::unwritable, path.string(), std::nullopt,
                              "the folder cannot be made" + (failure ? ": " + failure.message() : std::string()),
                              "a folder, or a place where one can be made", "Choose another folder."});
}

}  // namespace hairline
