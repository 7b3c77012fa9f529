// A ZIP by libzip, opened once. A zip_t belongs to one thread at a time, so reading threads borrow one from a pool that
// grows to as many as read at once; all of them read through one descriptor.
#include <fmt/format.h>
#include <zip.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <mutex>

#include "held_file.hpp"
#include "store.hpp"
#include "zip_end.hpp"

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
  return {ErrorKind::broken, path.string(), fmt::format("\"{}\" in the archive {}", wanted.entry.name, found),
          "a sound file",    again,         wanted.layer};
}

std::string text_of(int code) {
  zip_error_t error;
  zip_error_init_with_code(&error, code);
  std::string text = zip_error_strerror(&error);
  zip_error_fini(&error);
  return text;
}

bool begins_with(const HeldFile& file, const char* four_bytes) {
  std::array<char, 4> head{};
  return file.read(0, head.data(), head.size()) == 4 && std::memcmp(head.data(), four_bytes, 4) == 0;
}

Error open_error(const fs::path& path, int code, const HeldFile& file) {
  Error error{ErrorKind::broken, path.string(), "this is not a ZIP file",
              "a layer archive, or a ZIP or folder of PNG masks",
              "Check that this is the right file, and export the job again if it is."};
  if (code == ZIP_ER_READ || code == ZIP_ER_SEEK) {
    error.kind = ErrorKind::unreadable;
    error.found = fmt::format("the file cannot be read ({})", text_of(code));
    error.advice = "Check the file's disk.";
  } else if (code != ZIP_ER_NOZIP) {
    error.found = fmt::format("the ZIP file is damaged ({})", text_of(code));
  } else if (begins_with(file, "\x89PNG")) {
    error.found = "this is a picture, not a ZIP file";
    error.advice = "Name the folder that holds the masks of all layers.";
  } else if (begins_with(file, "PK\3\4")) {  // a ZIP without a directory at its end has been cut off
    error.found = "the ZIP file is cut off, its directory is missing";
    error.advice = "Copy or export the job again.";
  }
  return error;
}

// A ZIP as it was when it was opened: its directory is read once, so that all handles have the same one, and what they
// read is held against the checksums in it.
struct ZipFile {
  HeldFile file;
  ZipEnd end;
  // Asked where something was wrong: the time stamp of a file tells nothing of two writings within one tick of the
  // clock.
  bool changed() const {
    std::vector<std::byte> now(end.bytes.size());
    return file.changed() || file.read(end.from, now.data(), now.size()) != static_cast<std::int64_t>(now.size()) ||
           now != end.bytes;
  }
};

// ---- libzip's way to the file: one for each handle ----

struct Reader {
  const ZipFile& zip;
  std::uint64_t at = 0;
  zip_error_t error{};
};

zip_int64_t read_some(Reader& reader, void* into, zip_uint64_t bytes) {
  const ZipEnd& end = reader.zip.end;
  std::int64_t got = 0;
  if (reader.at >= end.from) {
    const std::uint64_t skip = std::min<std::uint64_t>(reader.at - end.from, end.bytes.size());
    got = static_cast<std::int64_t>(std::min<std::uint64_t>(bytes, end.bytes.size() - skip));
    std::copy_n(end.bytes.begin() + static_cast<std::ptrdiff_t>(skip), got, static_cast<std::byte*>(into));
  } else {
    got = reader.zip.file.read(reader.at, into, std::min<std::uint64_t>(bytes, end.from - reader.at));
    if (got < 0) zip_error_set(&reader.error, ZIP_ER_READ, errno);
  }
  if (got > 0) reader.at += static_cast<std::uint64_t>(got);
  return got;
}

zip_int64_t move_to(Reader& reader, void* data, zip_uint64_t length) {
  const zip_int64_t to =
      zip_source_seek_compute_offset(reader.at, reader.zip.file.mark().bytes, data, length, &reader.error);
  if (to < 0) return -1;
  reader.at = static_cast<std::uint64_t>(to);
  return 0;
}

zip_int64_t answer(void* user, void* data, zip_uint64_t length, zip_source_cmd_t command) {
  auto& reader = *static_cast<Reader*>(user);
  switch (command) {
    case ZIP_SOURCE_OPEN:
      reader.at = 0;
      return 0;
    case ZIP_SOURCE_READ:
      return read_some(reader, data, length);
    case ZIP_SOURCE_SEEK:
      return move_to(reader, data, length);
    case ZIP_SOURCE_TELL:
      return static_cast<zip_int64_t>(reader.at);
    case ZIP_SOURCE_STAT: {
      auto* info = static_cast<zip_stat_t*>(data);
      zip_stat_init(info);
      info->size = reader.zip.file.mark().bytes;
      info->valid = ZIP_STAT_SIZE;
      return sizeof *info;
    }
    case ZIP_SOURCE_ERROR:
      return zip_error_to_data(&reader.error, data, length);
    case ZIP_SOURCE_FREE:
      delete &reader;
      return 0;
    case ZIP_SOURCE_SUPPORTS:
      return ZIP_SOURCE_SUPPORTS_SEEKABLE | ZIP_SOURCE_MAKE_COMMAND_BITMASK(ZIP_SOURCE_ACCEPT_EMPTY);
    default:  // an empty file is no ZIP; closing needs nothing
      return 0;
  }
}

Result<Zip> open_handle(const ZipFile& file, const fs::path& path) {
  zip_error_t error;
  zip_error_init(&error);
  auto reader = std::make_unique<Reader>(Reader{file});
  zip_source_t* source = zip_source_function_create(answer, reader.get(), &error);
  if (source != nullptr) reader.release();  // is libzip's from here on
  zip_t* zip = source == nullptr ? nullptr : zip_open_from_source(source, ZIP_RDONLY, &error);
  const int code = zip_error_code_zip(&error);
  zip_error_fini(&error);
  if (zip != nullptr) return Zip(zip);
  if (source != nullptr) zip_source_free(source);
  return tl::unexpected(file.changed() ? changed_error(path.string(), {}, "the file")
                                       : open_error(path, code, file.file));
}

class ZipStore final : public Store {
 public:
  ZipStore(fs::path path, std::unique_ptr<ZipFile> file, Zip first, std::vector<Entry> entries)
      : path_(std::move(path)), file_(std::move(file)), entries_(std::move(entries)) {
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
        return tl::unexpected(Error{ErrorKind::mismatch, path_.string(),
                                    fmt::format("the archive holds two files \"{}\"", name), "one", again});
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

  std::string marks(const std::vector<Entry>&) const override { return text_of(file_->file.mark()); }

 private:
  // `partly`: more follows behind the entry's bytes.
  Result<void> with_handle(const Wanted& wanted, bool partly, std::vector<std::byte>& bytes) const {
    auto zip = borrow();
    if (!zip) return tl::unexpected(std::move(zip.error()));
    auto done = read_with(zip->get(), wanted, partly, bytes);
    give_back(std::move(*zip));
    // Asked after the bytes have been read: what was read before a change is what was there when the file was opened.
    if (done ? file_->file.changed() : file_->changed())
      return tl::unexpected(changed_error(path_.string(), wanted.layer, "the file"));
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
    return open_handle(*file_, path_);
  }

  void give_back(Zip zip) const {
    const std::lock_guard lock(mutex_);
    idle_.push_back(std::move(zip));
  }

  Result<void> read_with(zip_t* zip, const Wanted& wanted, bool partly, std::vector<std::byte>& bytes) const {
    const Entry& entry = wanted.entry;
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
  std::unique_ptr<ZipFile> file_;
  std::vector<Entry> entries_;
  mutable std::mutex mutex_;
  mutable std::vector<Zip> idle_;
};

Result<std::vector<Entry>> list_entries(zip_t* zip, const fs::path& path, const HeldFile& file) {
  std::vector<Entry> entries;
  const auto count = static_cast<std::uint64_t>(std::max<zip_int64_t>(zip_get_num_entries(zip, 0), 0));
  entries.reserve(count);
  for (std::uint64_t i = 0; i < count; ++i) {
    zip_stat_t info;
    zip_stat_init(&info);
    const zip_uint64_t needed = ZIP_STAT_NAME | ZIP_STAT_SIZE | ZIP_STAT_COMP_SIZE;
    if (zip_stat_index(zip, i, ZIP_FL_ENC_RAW, &info) != 0 || (info.valid & needed) != needed)
      return tl::unexpected(open_error(path, ZIP_ER_INCONS, file));
    const std::string name = info.name;
    if (!stays_inside(name)) return tl::unexpected(leads_out(path, name));
    entries.push_back({name, i, info.size, info.comp_size, name.back() == '/', {}});
  }
  return entries;
}

}  // namespace

Result<std::unique_ptr<Store>> open_zip(const fs::path& path, const Limits& limits) {
  auto held = HeldFile::open(path);
  if (!held) return tl::unexpected(std::move(held.error()));
  auto end = read_zip_end(*held, path, limits);
  if (!end) return tl::unexpected(std::move(end.error()));
  auto file = std::make_unique<ZipFile>(ZipFile{std::move(*held), std::move(*end)});
  auto zip = open_handle(*file, path);
  if (!zip) return tl::unexpected(std::move(zip.error()));
  auto entries = list_entries(zip->get(), path, file->file);
  if (!entries) return tl::unexpected(std::move(entries.error()));
  return std::make_unique<ZipStore>(path, std::move(file), std::move(*zip), std::move(*entries));
}

}  // namespace hairline::archive
