// A plain folder. Only the folder that the pattern names is listed; everything is found by its name.
#include <fmt/format.h>

#include <algorithm>
#include <cstdio>
#include <fstream>
#include <system_error>

#include "hairline/files.hpp"
#include "store.hpp"

namespace hairline::archive {
namespace {

namespace fs = std::filesystem;

constexpr int most_depth = 8;
constexpr std::size_t most_files = 300'000;

Error not_listed(const fs::path& folder, const std::error_code& error) {
  return {.kind = ErrorKind::unreadable,
          .file = folder.string(),
          .layer = {},
          .found = fmt::format("the folder cannot be read ({})", error.message()),
          .expected = "a folder with the layers",
          .advice = "Check \"layers.files\" in the manifest and the rights of the folder."};
}

class FolderStore final : public Store {
 public:
  explicit FolderStore(fs::path path) : path_(std::move(path)) {}

  Result<std::vector<Entry>> list(const Pattern& pattern) const override {
    const std::size_t slash = pattern.before.rfind('/');
    const std::string inner = slash == std::string::npos ? "" : pattern.before.substr(0, slash + 1);
    std::vector<Entry> found;
    std::error_code error;
    fs::directory_iterator at(path_ / inner, error);
    if (error == std::errc::no_such_file_or_directory) return found;
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
    std::error_code error;
    fs::recursive_directory_iterator at(path_, error);  // does not follow links to folders
    for (; !error && at != fs::recursive_directory_iterator(); at.increment(error)) {
      if (at.depth() >= most_depth) at.disable_recursion_pending();
      const std::string name = at->path().lexically_relative(path_).generic_string();
      if (at->is_directory(error)) continue;
      if (!stays_inside(name)) return tl::unexpected(leads_out(path_, name));
      if (found.size() == most_files)
        return tl::unexpected(Error{.kind = ErrorKind::limit,
                                    .file = path_.string(),
                                    .layer = {},
                                    .found = fmt::format("the folder holds over {} files", most_files),
                                    .expected = "the folder of one job",
                                    .advice = "Check that this is the right folder."});
      found.push_back(entry(name));
    }
    if (error) return tl::unexpected(not_listed(path_, error));
    std::sort(found.begin(), found.end(), [](const Entry& a, const Entry& b) { return a.name < b.name; });
    return found;
  }

  Result<std::optional<Entry>> find(const std::string& name) const override {
    std::error_code error;
    if (!fs::exists(path_ / name, error)) return std::nullopt;
    return entry(name);
  }

  Result<void> head(const Entry& entry, std::uint64_t bytes, std::vector<std::byte>& out) const override {
    out.clear();
    std::ifstream file(path_ / entry.name, std::ios::binary);
    if (entry.bytes == 0 || !file) return {};  // told when it is read as a layer
    out.resize(std::min(bytes, entry.bytes));
    file.read(reinterpret_cast<char*>(out.data()), static_cast<std::streamsize>(out.size()));
    out.resize(static_cast<std::size_t>(file.gcount()));
    return {};
  }

  Result<void> read(const Wanted& wanted, std::vector<std::byte>& bytes) const override {
    auto text = read_text(path_ / wanted.entry.name, wanted.entry.bytes);
    if (!text) {
      text.error().layer = wanted.layer;
      return tl::unexpected(std::move(text.error()));
    }
    const auto view = std::as_bytes(std::span(*text));
    bytes.assign(view.begin(), view.end());
    return {};
  }

 private:
  Entry entry(const std::string& name) const {
    std::error_code error;
    const fs::file_status status = fs::status(path_ / name, error);
    const std::uintmax_t bytes = fs::is_regular_file(status) ? fs::file_size(path_ / name, error) : 0;
    return {name, 0, error ? 0 : bytes, error ? 0 : bytes, fs::is_directory(status)};
  }

  fs::path path_;
};

}  // namespace

std::unique_ptr<Store> open_folder(const fs::path& path) {
  return std::make_unique<FolderStore>(path);
}

Error leads_out(const fs::path& path, const std::string& name) {
  return {.kind = ErrorKind::invalid,
          .file = path.string(),
          .layer = {},
          .found = fmt::format("the archive holds a file named \"{}\"", name),
          .expected = "names that stay inside the archive, with forward slashes",
          .advice = "Do not trust this archive; ask where it comes from."};
}

}  // namespace hairline::archive
