// Where an archive's files lie: a ZIP or a folder, behind one small interface.
#pragma once
#include <filesystem>
#include <memory>
#include <vector>

#include "hairline/archive.hpp"
#include "names.hpp"

namespace hairline::archive {

/// One file of an archive asked for.
struct Wanted {
  const Entry& entry;
  std::optional<std::uint32_t> layer;  ///< for errors; unset for the manifest
};

class Store {
 public:
  virtual ~Store() = default;
  /// All files that could be layers by `pattern`, in no order; folders too. Fails with invalid (a name that leads out
  /// of the archive), unreadable.
  virtual Result<std::vector<Entry>> list(const Pattern& pattern) const = 0;
  /// manifest.json. Fails with not_found, mismatch (there are two), unreadable.
  virtual Result<Entry> manifest() const = 0;
  /// The whole file, into `bytes` (its memory is reused). Safe to call from many threads. The caller has checked the
  /// size.
  virtual Result<void> read(const Wanted& wanted, std::vector<std::byte>& bytes) const = 0;
};

/// Fails with broken (not a ZIP, cut off), unreadable, not_found, invalid (a name that leads out).
Result<std::unique_ptr<Store>> open_zip(const std::filesystem::path& path);
std::unique_ptr<Store> open_folder(const std::filesystem::path& path);

Error no_manifest(const std::filesystem::path& path);
Error leads_out(const std::filesystem::path& path, const std::string& name);

}  // namespace hairline::archive
