// Checks of what lies in an archive before anything is read.
#include <fmt/format.h>

#include "families.hpp"
#include "foreign.hpp"

namespace hairline::archive {
namespace {

// A few bytes may pack well by chance or by repetition; what is larger and packed more tightly than deflate can pack a
// picture is made to fill the memory.
constexpr std::uint64_t harmless_bytes = 1 << 20;

}  // namespace

Result<void> check_entry(const std::string& file, const Wanted& wanted, std::uint64_t most_bytes,
                         const Limits& limits) {
  const Entry& entry = wanted.entry;
  const auto fail = [&](ErrorKind kind, std::string found, std::string expected, std::string advice) {
    return tl::unexpected(Error{kind, file, fmt::format("\"{}\" {}", entry.name, found), std::move(expected),
                                std::move(advice), wanted.layer});
  };
  if (!entry.fault.empty())
    return fail(entry.fault == fault_outside ? ErrorKind::invalid : ErrorKind::unreadable, entry.fault,
                "a plain file inside the archive", "Put the file itself there.");
  if (entry.folder) return fail(ErrorKind::unreadable, "is a folder", "a file", "Export the job again.");
  if (entry.bytes == 0) return fail(ErrorKind::broken, "is empty", "a file with content", "Export the job again.");
  if (entry.bytes > most_bytes)
    return fail(ErrorKind::limit, fmt::format("is {} bytes large", entry.bytes),
                fmt::format("at most {} bytes", most_bytes), "Check that this is the right file.");
  if (entry.bytes > harmless_bytes &&
      static_cast<double>(entry.bytes) > static_cast<double>(entry.packed_bytes) * limits.compression_ratio)
    return fail(ErrorKind::limit, fmt::format("is {} bytes packed into {}", entry.bytes, entry.packed_bytes),
                fmt::format("at most {} times the packed size", limits.compression_ratio),
                "Do not trust this archive.");
  return {};
}

Result<std::string> read_small(const Store& store, const Entry& entry, const std::string& file, const Limits& limits) {
  const Wanted wanted{entry, {}};
  if (auto sound = check_entry(file, wanted, limits.manifest_bytes, limits); !sound)
    return tl::unexpected(std::move(sound.error()));
  std::vector<std::byte> bytes;
  if (auto read = store.read(wanted, bytes); !read) return tl::unexpected(std::move(read.error()));
  return std::string(reinterpret_cast<const char*>(bytes.data()), bytes.size());
}

Result<void> order_and_check(std::vector<Entry>& layers, const Pattern& pattern, const Numbering& numbering,
                             const Limits& limits) {
  if (layers.size() > limits.layers)
    return tl::unexpected(Error{ErrorKind::limit, numbering.file,
                                fmt::format("the archive holds {} layers", layers.size()),
                                fmt::format("at most {} layers", limits.layers), "Check that this is the right file."});
  if (auto ordered = put_in_order(layers, pattern, numbering); !ordered) return ordered;
  for (std::size_t i = 0; i < layers.size(); ++i)
    if (auto sound =
            check_entry(numbering.file, {layers[i], static_cast<std::uint32_t>(i + 1)}, limits.entry_bytes, limits);
        !sound)
      return sound;
  return {};
}

}  // namespace hairline::archive
