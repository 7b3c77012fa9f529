// A plain folder. Only the folder that the pattern names is listed; everything is found by its name.
#include <fmt/format.h>

#include <cstdio>
#include <system_error>

#include "hairline/files.hpp"
#include "store.hpp"

namespace hairline::archive {
namespace {

namespace fs = std::filesystem;

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
    if (error)
      return tl::unexpected(Error{.kind = ErrorKind::unreadable,
                                  .file = (path_ / inner).string(),
                                  .layer = {},
                                  .found = fmt::format("the folder cannot be read ({})", error.message()),
                                  .expected = "a folder with the layers",
                                  .advice = "Check \"layers.files\" in the manifest and the rights of the folder."});
    return found;
  }

  Result<Entry> manifest() const override {
    std::error_code error;
    if (!fs::exists(path_ / "manifest.json", error)) return tl::unexpected(no_manifest(path_));
    return entry("manifest.json");
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

Error no_manifest(const fs::path& path) {
  return {.kind = ErrorKind::not_found,
          .file = path.string(),
          .layer = {},
          .found = "the archive holds no manifest.json",
          .expected = "a layer archive: a ZIP or a folder with a manifest.json at its top",
          .advice = "Check that this is a layer archive, and export the job again if it is."};
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
