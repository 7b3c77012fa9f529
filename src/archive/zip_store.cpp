// A ZIP by libzip. A zip_t belongs to one thread at a time, so reading threads borrow one from a pool that grows to as
// many as read at once.
#include <fmt/format.h>
#include <zip.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <fstream>
#include <mutex>

#include "store.hpp"

namespace hairline::archive {
namespace {

namespace fs = std::filesystem;

struct CloseZip {
  void operator()(zip_t* zip) const { zip_discard(zip); }
};
using Zip = std::unique_ptr<zip_t, CloseZip>;
struct CloseFile {
  void operator()(zip_file_t* file) const { zip_fclose(file); }
};

constexpr const char* again = "Export the job again.";

Error broken_entry(const fs::path& path, const Wanted& wanted, std::string found) {
  return {.kind = ErrorKind::broken,
          .file = path.string(),
          .layer = wanted.layer,
          .found = fmt::format("\"{}\" in the archive {}", wanted.entry.name, found),
          .expected = "a sound file",
          .advice = again};
}

std::string text_of(int code) {
  zip_error_t error;
  zip_error_init_with_code(&error, code);
  std::string text = zip_error_strerror(&error);
  zip_error_fini(&error);
  return text;
}

// A file that begins like a ZIP but has no directory at its end has been cut off.
bool begins_like_zip(const fs::path& path) {
  std::array<char, 4> head{};
  std::ifstream file(path, std::ios::binary);
  file.read(head.data(), head.size());
  return file.gcount() == 4 && std::memcmp(head.data(), "PK\3\4", 4) == 0;
}

Error open_error(const fs::path& path, int code) {
  Error error{.kind = ErrorKind::broken,
              .file = path.string(),
              .layer = {},
              .found = "this is not a ZIP file",
              .expected = "a layer archive, or a ZIP or folder of PNG masks",
              .advice = "Check that this is the right file, and export the job again if it is."};
  if (code == ZIP_ER_OPEN || code == ZIP_ER_READ || code == ZIP_ER_SEEK) {
    error.kind = ErrorKind::unreadable;
    error.found = fmt::format("the file cannot be read ({})", text_of(code));
    error.advice = "Check the rights of the file.";
  } else if (code != ZIP_ER_NOZIP) {
    error.found = fmt::format("the ZIP file is damaged ({})", text_of(code));
  } else if (begins_like_zip(path)) {
    error.found = "the ZIP file is cut off, its directory is missing";
    error.advice = "Copy or export the job again.";
  }
  return error;
}

Result<Zip> open_handle(const fs::path& path) {
  int code = 0;
  if (zip_t* zip = zip_open(path.c_str(), ZIP_RDONLY, &code)) return Zip(zip);
  return tl::unexpected(open_error(path, code));
}

class ZipStore final : public Store {
 public:
  ZipStore(fs::path path, Zip first, std::vector<Entry> entries)
      : path_(std::move(path)), entries_(std::move(entries)) {
    idle_.push_back(std::move(first));
  }

  Result<std::vector<Entry>> list(const Pattern& pattern) const override {
    std::vector<Entry> found;
    for (const Entry& entry : entries_)
      if (matches(pattern, entry.name)) found.push_back(entry);
    return found;
  }

  Result<std::vector<Entry>> all() const override {
    std::vector<Entry> found = entries_;
    std::sort(found.begin(), found.end(), [](const Entry& a, const Entry& b) { return a.name < b.name; });
    return found;
  }

  Result<std::optional<Entry>> find(const std::string& name) const override {
    std::optional<Entry> found;
    for (const Entry& entry : entries_) {
      if (entry.name != name) continue;
      if (found)
        return tl::unexpected(Error{.kind = ErrorKind::mismatch,
                                    .file = path_.string(),
                                    .layer = {},
                                    .found = fmt::format("the archive holds two files \"{}\"", name),
                                    .expected = "one",
                                    .advice = again});
      found = entry;
    }
    return found;
  }

  Result<void> head(const Entry& entry, std::uint64_t bytes, std::vector<std::byte>& out) const override {
    Entry beginning = entry;
    beginning.bytes = std::min(bytes, entry.bytes);
    return with_handle({beginning, {}}, beginning.bytes < entry.bytes, out);
  }

  Result<void> read(const Wanted& wanted, std::vector<std::byte>& bytes) const override {
    return with_handle(wanted, false, bytes);
  }

 private:
  // `partly`: more follows behind the entry's bytes.
  Result<void> with_handle(const Wanted& wanted, bool partly, std::vector<std::byte>& bytes) const {
    auto zip = borrow();
    if (!zip) return tl::unexpected(std::move(zip.error()));
    auto done = read_with(zip->get(), wanted, partly, bytes);
    give_back(std::move(*zip));
    return done;
  }

  Result<Zip> borrow() const {
    {
      const std::lock_guard lock(mutex_);
      if (!idle_.empty()) {
        Zip zip = std::move(idle_.back());
        idle_.pop_back();
        return zip;
      }
    }
    return open_handle(path_);
  }

  void give_back(Zip zip) const {
    const std::lock_guard lock(mutex_);
    idle_.push_back(std::move(zip));
  }

  Result<void> read_with(zip_t* zip, const Wanted& wanted, bool partly, std::vector<std::byte>& bytes) const {
    const Entry& entry = wanted.entry;
    // Another handle reads the directory anew: the file may have been replaced meanwhile.
    const char* name = zip_get_name(zip, entry.index, ZIP_FL_ENC_RAW);
    if (name == nullptr || entry.name != name)
      return tl::unexpected(broken_entry(path_, wanted, "has changed while it was being read"));
    const std::unique_ptr<zip_file_t, CloseFile> file(zip_fopen_index(zip, entry.index, 0));
    if (!file)
      return tl::unexpected(broken_entry(path_, wanted, fmt::format("cannot be read ({})", zip_strerror(zip))));
    // One too many makes libzip reach the end, where it tests the checksum.
    bytes.resize(entry.bytes + (partly ? 0 : 1));
    std::uint64_t got = 0;
    while (got < bytes.size()) {
      const zip_int64_t step = zip_fread(file.get(), bytes.data() + got, bytes.size() - got);
      if (step < 0)
        return tl::unexpected(
            broken_entry(path_, wanted, fmt::format("is damaged ({})", zip_file_strerror(file.get()))));
      if (step == 0) break;
      got += static_cast<std::uint64_t>(step);
    }
    if (got != entry.bytes)
      return tl::unexpected(broken_entry(path_, wanted, "has another length than the archive says"));
    bytes.resize(got);
    return {};
  }

  fs::path path_;
  std::vector<Entry> entries_;
  mutable std::mutex mutex_;
  mutable std::vector<Zip> idle_;
};

Result<std::vector<Entry>> list_entries(zip_t* zip, const fs::path& path) {
  std::vector<Entry> entries;
  const auto count = static_cast<std::uint64_t>(std::max<zip_int64_t>(zip_get_num_entries(zip, 0), 0));
  entries.reserve(count);
  for (std::uint64_t i = 0; i < count; ++i) {
    zip_stat_t info;
    zip_stat_init(&info);
    const zip_uint64_t needed = ZIP_STAT_NAME | ZIP_STAT_SIZE | ZIP_STAT_COMP_SIZE;
    if (zip_stat_index(zip, i, ZIP_FL_ENC_RAW, &info) != 0 || (info.valid & needed) != needed)
      return tl::unexpected(open_error(path, ZIP_ER_INCONS));
    const std::string name = info.name;
    if (!stays_inside(name)) return tl::unexpected(leads_out(path, name));
    entries.push_back({name, i, info.size, info.comp_size, name.back() == '/'});
  }
  return entries;
}

}  // namespace

Result<std::unique_ptr<Store>> open_zip(const fs::path& path) {
  auto zip = open_handle(path);
  if (!zip) return tl::unexpected(std::move(zip.error()));
  auto entries = list_entries(zip->get(), path);
  if (!entries) return tl::unexpected(std::move(entries.error()));
  return std::make_unique<ZipStore>(path, std::move(*zip), std::move(*entries));
}

}  // namespace hairline::archive
