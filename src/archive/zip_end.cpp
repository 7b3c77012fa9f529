// Source: PKWARE APPNOTE 6.3.10, 4.3.12 (one file in the directory), 4.3.14 (ZIP64 end), 4.3.15 (its locator), 4.3.16
// (end).
//
//     files ... | directory | ZIP64 end | locator of it | end, comment of up to 65 535 bytes |
#include "zip_end.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <string_view>
#include <system_error>

namespace hairline::archive {
namespace {

constexpr std::uint64_t end_bytes = 22, locator_bytes = 20, long_end_bytes = 56, longest_comment = 65'535;
constexpr std::uint64_t least_entry_bytes = 46;

struct Directory {
  std::uint64_t entries = 0, bytes = 0, from = 0;
};

std::uint64_t number(std::string_view text, std::size_t at, std::size_t bytes) {
  std::uint64_t value = 0;
  for (std::size_t i = bytes; i-- > 0;) value = value << 8 | static_cast<unsigned char>(text[at + i]);
  return value;
}

std::string_view text_of(const std::vector<std::byte>& bytes) {
  return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
}

bool read_from(const HeldFile& file, std::uint64_t at, std::vector<std::byte>& bytes) {
  return file.read(at, bytes.data(), bytes.size()) == static_cast<std::int64_t>(bytes.size());
}

// What the end record at `at` says, or the ZIP64 one that a locator before it leads to.
Directory directory_of(const HeldFile& file, std::string_view tail, std::size_t at) {
  if (at >= locator_bytes && tail.substr(at - locator_bytes).starts_with("PK\6\7")) {
    std::vector<std::byte> record(long_end_bytes);
    const std::uint64_t from = number(tail, at - locator_bytes + 8, 8);
    if (from < file.mark().bytes && read_from(file, from, record) && text_of(record).starts_with("PK\6\6"))
      return {number(text_of(record), 32, 8), number(text_of(record), 40, 8), number(text_of(record), 48, 8)};
  }
  return {number(tail, at + 10, 2), number(tail, at + 12, 4), number(tail, at + 16, 4)};
}

Result<void> check(const Directory& claimed, const std::filesystem::path& path, const Limits& limits) {
  const auto fail = [&](ErrorKind kind, std::string expected) {
    return tl::unexpected(
        Error{kind, path.string(),
              fmt::format("the ZIP file's directory claims {} files in {} bytes", claimed.entries, claimed.bytes),
              std::move(expected), "Check that this is the right file, and export the job again."});
  };
  if (claimed.entries > limits.entries || claimed.bytes > limits.directory_bytes)
    return fail(ErrorKind::limit, fmt::format("at most {} files in {} bytes", limits.entries, limits.directory_bytes));
  if (claimed.entries > 0xFFFF && claimed.entries * least_entry_bytes > claimed.bytes)
    return fail(ErrorKind::broken, fmt::format("at least {} bytes for each file", least_entry_bytes));
  return {};
}

}  // namespace

Result<ZipEnd> read_zip_end(const HeldFile& file, const std::filesystem::path& path, const Limits& limits) {
  const auto unreadable = [&] {
    return tl::unexpected(
        file.changed() ? changed_error(path.string(), {}, "the file")
                       : Error{ErrorKind::unreadable, path.string(),
                               fmt::format("the file cannot be read ({})", std::generic_category().message(errno)),
                               "a file you may read", "Check the file's disk."});
  };
  const std::uint64_t size = file.mark().bytes;
  std::vector<std::byte> tail(std::min(size, end_bytes + locator_bytes + longest_comment + 1));
  if (!read_from(file, size - tail.size(), tail)) return unreadable();
  const std::string_view text = text_of(tail);
  std::uint64_t from = size - tail.size();
  // The comment may hold what looks like an end record; libzip tries them all, so all are bounded.
  for (std::size_t at = text.find("PK\5\6"); at != std::string_view::npos && at + end_bytes <= text.size();
       at = text.find("PK\5\6", at + 1)) {
    const Directory claimed = directory_of(file, text, at);
    if (auto sound = check(claimed, path, limits); !sound) return tl::unexpected(std::move(sound.error()));
    if (claimed.from < size && claimed.bytes <= size - claimed.from) from = std::min(from, claimed.from);
  }
  if (size - from > limits.directory_bytes + tail.size()) from = size - tail.size();
  if (from < size - tail.size()) {
    tail.resize(size - from);
    if (!read_from(file, from, tail)) return unreadable();
  }
  return ZipEnd{from, std::move(tail)};
}

}  // namespace hairline::archive
