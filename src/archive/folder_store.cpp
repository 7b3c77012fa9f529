// A plain folder. Only the folder that the pattern names is listed; everything is found by its name. What each file was
// when it was first seen is kept, so that a change is noticed.
#include <fmt/format.h>

#include <algorithm>
#include <cerrno>
#include <map>
#include <mutex>
#include <system_error>
#include <thread>

#include "held_file.hpp"
#include "store.hpp"

namespace hairline::archive {
namespace {

namespace fs = std::filesystem;

constexpr int most_depth = 8;

Error not_listed(const fs::path& folder, const std::error_code& error) {
  return {ErrorKind::unreadable, folder.string(), fmt::format("the folder cannot be read ({})", error.message()),
          "a folder with the layers", "Check \"layers.files\" in the manifest and the rights of the folder."};
}

bool is_link(const fs::path& path) {
  std::error_code ignored;
  return fs::is_symlink(path, ignored);
}

// Why a file that is there cannot be looked at.
std::string fault_of(const fs::path& path, int code) {
  if (code == ENOENT && is_link(path)) return "is a link to nothing";
  if (code == ELOOP) return "is a link that leads back to itself";
  return fmt::format("cannot be read ({})", std::generic_category().message(code));
}

void wait_for_next_tick(const FileMark& mark) {
  const auto age = age_of(mark);
  if (age >= age.zero() && age < clock_tick) std::this_thread::sleep_for(clock_tick - age);
}

class FolderStore final : public Store {
 public:
  FolderStore(fs::path path, std::size_t most_files) : path_(std::move(path)), most_files_(most_files) {
    std::error_code ignored;
    root_ = fs::canonical(path_, ignored);
  }

  Result<std::vector<Entry>> list(const Pattern& pattern) const override {
    const std::size_t slash = pattern.before.rfind('/');
    const std::string inner = slash == std::string::npos ? "" : pattern.before.substr(0, slash + 1);
    std::vector<Entry> found;
    std::error_code error;
    fs::directory_iterator at(path_ / inner, error);
    if (error == std::errc::no_such_file_or_directory && !is_link((path_ / inner).parent_path())) return found;
    if (!error && !inner.empty() && is_outside(path_ / inner))
      return tl::unexpected(Error{ErrorKind::invalid, path_.string(), fmt::format("\"{}\" {}", inner, fault_outside),
                                  "a folder inside the archive", "Put the files themselves there."});
    for (; !error && at != fs::directory_iterator(); at.increment(error)) {
      const std::string name = inner + at->path().filename().string();
      if (!matches(pattern, name)) continue;
      if (!stays_inside(name)) return tl::unexpected(leads_out(path_, name));
      found.push_back(entry(name));
    }
    if (error) return tl::unexpected(not_listed(path_ / inner, error));
    return found;
  }

  Result<std::vector<Entry>> all() const override {
    std::vector<Entry> found;
    if (auto walked = walk("", most_depth, found); !walked) return tl::unexpected(std::move(walked.error()));
    std::sort(found.begin(), found.end(), [](const Entry& a, const Entry& b) { return a.name < b.name; });
    return found;
  }

  Result<std::optional<Entry>> find(const std::string& name) const override {
    std::error_code error;
    if (!fs::exists(fs::symlink_status(path_ / name, error))) return std::nullopt;
    Entry out = entry(name);
    if (out.fault.empty() && is_outside(path_ / name)) out.fault = fault_outside;
    return out;
  }

  Result<void> head(const Entry& entry, std::uint64_t bytes, std::vector<std::byte>& out) const override {
    out.clear();
    if (entry.bytes == 0 || !entry.fault.empty()) return {};  // told when it is read as a layer
    return read_first({entry, {}}, std::min(bytes, entry.bytes), out);
  }

  Result<void> read(const Wanted& wanted, std::vector<std::byte>& bytes) const override {
    return read_first(wanted, wanted.entry.bytes, bytes);
  }

  Result<void> unchanged() const override {
    const std::lock_guard lock(mutex_);
    for (const auto& [name, seen] : seen_) {
      struct ::stat info {};
      if (seen.read && (::stat((path_ / name).c_str(), &info) != 0 || differs(seen.mark, mark_of(info))))
        return tl::unexpected(changed(name, {}));
    }
    return {};
  }

  std::string marks(const std::vector<Entry>& entries) const override {
    const std::lock_guard lock(mutex_);
    std::string all;
    for (const Entry& entry : entries) {
      const auto seen = seen_.find(entry.name);
      const std::string mark = seen == seen_.end() ? std::string() : text_of(seen->second.mark);
      if (mark.empty()) return {};
      all += mark;
    }
    return all;
  }

 private:
  struct Seen {
    FileMark mark;
    bool read = false;
  };

  Error changed(const std::string& name, std::optional<std::uint32_t> layer) const {
    return changed_error(path_.string(), layer, fmt::format("\"{}\" in the folder", name));
  }

  // Links to folders are not followed.
  Result<void> walk(const std::string& inner, int depth, std::vector<Entry>& found) const {
    std::error_code error;
    fs::directory_iterator at(path_ / inner, error);
    for (; !error && at != fs::directory_iterator(); at.increment(error)) {
      const std::string name = inner + at->path().filename().string();
      std::error_code odd;  // told of the entry
      if (at->is_directory(odd)) {
        if (depth == 0 || at->is_symlink(odd)) continue;
        if (auto walked = walk(name + "/", depth - 1, found); !walked) return walked;
        continue;
      }
      if (!stays_inside(name)) return tl::unexpected(leads_out(path_, name));
      if (found.size() == most_files_)
        return tl::unexpected(Error{ErrorKind::limit, path_.string(),
                                    fmt::format("the folder holds over {} files", most_files_), "the folder of one job",
                                    "Check that this is the right folder."});
      found.push_back(entry(name));
    }
    if (error) return tl::unexpected(not_listed(path_ / inner, error));
    return {};
  }

  bool is_outside(const fs::path& path) const {
    std::error_code error;
    const fs::path target = fs::canonical(path, error);
    return error || std::mismatch(root_.begin(), root_.end(), target.begin(), target.end()).first != root_.end();
  }

  Entry entry(const std::string& name) const {
    Entry out{.name = name, .fault = {}};
    const fs::path path = path_ / name;
    struct ::stat info {};
    if (::stat(path.c_str(), &info) != 0) {
      out.fault = fault_of(path, errno);
    } else if (is_link(path) && is_outside(path)) {
      out.fault = fault_outside;
    } else if (S_ISDIR(info.st_mode)) {
      out.folder = true;
    } else if (!S_ISREG(info.st_mode)) {
      out.fault = S_ISFIFO(info.st_mode) ? "is a pipe" : "is a device or a socket";
    } else {
      const std::lock_guard lock(mutex_);
      out.bytes = out.packed_bytes = seen_.emplace(name, Seen{mark_of(info)}).first->second.mark.bytes;
    }
    return out;
  }

  FileMark mark_to_read(const std::string& name) const {
    const std::lock_guard lock(mutex_);
    Seen& seen = seen_[name];
    seen.read = true;
    return seen.mark;
  }

  Result<void> read_first(const Wanted& wanted, std::uint64_t bytes, std::vector<std::byte>& out) const {
    const std::string& name = wanted.entry.name;
    const FileMark mark = mark_to_read(name);
    auto file = HeldFile::open(path_ / name);
    if (!file && file.error().kind != ErrorKind::not_found) {
      file.error().layer = wanted.layer;
      return tl::unexpected(std::move(file.error()));
    }
    if (!file || differs(mark, file->mark())) return tl::unexpected(changed(name, wanted.layer));
    wait_for_next_tick(mark);
    out.resize(bytes);
    const std::int64_t got = file->read(0, out.data(), bytes);
    if (got < 0)
      return tl::unexpected(Error{ErrorKind::unreadable, (path_ / name).string(),
                                  fmt::format("it cannot be read ({})", std::generic_category().message(errno)),
                                  "a file you may read", "Check the file's disk.", wanted.layer});
    if (static_cast<std::uint64_t>(got) != bytes || file->changed()) return tl::unexpected(changed(name, wanted.layer));
    return {};
  }

  fs::path path_, root_;
  std::size_t most_files_;
  mutable std::mutex mutex_;
  mutable std::map<std::string, Seen> seen_;
};

}  // namespace

std::unique_ptr<Store> open_folder(const fs::path& path, const Limits& limits) {
  return std::make_unique<FolderStore>(path, limits.entries);
}

Error leads_out(const fs::path& path, const std::string& name) {
  return {ErrorKind::invalid, path.string(), fmt::format("the archive holds a file named \"{}\"", name),
          "names that stay inside the archive, with forward slashes",
          "Do not trust this archive; ask where it comes from."};
}

}  // namespace hairline::archive
