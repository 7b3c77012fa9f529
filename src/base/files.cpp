#include "hairline/files.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

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
    return {ErrorKind::not_found, path.string(), "there is no such file", "a file that exists", "Check the path."};
  return {ErrorKind::unreadable, path.string(), fmt::format("it cannot be read ({})", reason(code)),
          "a file you may read", "Check the rights of the file and of its folder."};
}

Error not_a_file(const fs::path& path, bool folder) {
  return {ErrorKind::unreadable, path.string(), folder ? "this is a folder" : "this is not a plain file", "a file",
          "Name the file itself."};
}

}  // namespace

Result<std::string> read_text(const fs::path& path, std::uint64_t most_bytes) {
  struct ::stat info {};
  if (::stat(path.c_str(), &info) != 0) return tl::unexpected(read_error(path, errno));
  if (!S_ISREG(info.st_mode)) return tl::unexpected(not_a_file(path, S_ISDIR(info.st_mode)));
  const auto too_large = [&] {
    return tl::unexpected(Error{ErrorKind::limit, path.string(), fmt::format("it is larger than {} bytes", most_bytes),
                                "a smaller file", "Check that this is the right file."});
  };
  if (static_cast<std::uint64_t>(info.st_size) > most_bytes) return too_large();
  // Where a pipe has taken its place meanwhile, it must not be waited for.
  const int descriptor = ::open(path.c_str(), O_RDONLY | O_NONBLOCK | O_CLOEXEC);
  const File file(descriptor < 0 ? nullptr : ::fdopen(descriptor, "rb"));
  if (!file) {
    const int code = errno;
    if (descriptor >= 0) ::close(descriptor);
    return tl::unexpected(read_error(path, code));
  }
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

Result<void> make_folder(const fs::path& path) {
  std::error_code failure;
  fs::create_directories(path, failure);
  if (!failure && fs::is_directory(path, failure)) return {};
  return tl::unexpected(Error{ErrorKind::unwritable, path.string(),
                              "the folder cannot be made" + (failure ? ": " + failure.message() : std::string()),
                              "a folder, or a place where one can be made", "Choose another folder."});
}

}  // namespace hairline
