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
  /// Every file, in the order of names. Fails as `list` does, and with limit.
  virtual Result<std::vector<Entry>> all() const = 0;
  /// One file by its name; nothing where there is none. Fails with mismatch (there are two), unreadable.
  virtual Result<std::optional<Entry>> find(const std::string& name) const = 0;
  /// The first bytes of a file, as many as there are up to `bytes`. Fails as `read` does.
  virtual Result<void> head(const Entry& entry, std::uint64_t bytes, std::vector<std::byte>& out) const = 0;
  /// The whole file, into `bytes` (its memory is reused). Safe to call from many threads. The caller has checked the
  /// size.
  virtual Result<void> read(const Wanted& wanted, std::vector<std::byte>& bytes) const = 0;
  /// What has been read is still what is there. A ZIP tells at each reading. Fails with unreadable.
  virtual Result<void> unchanged() const { return {}; }
  /// Tells the state of these files, as they were opened, from any other; empty where a change could leave no mark.
  virtual std::string marks(const std::vector<Entry>& entries) const = 0;
};

/// A ZIP or a folder. Fails as these do, and with not_found, unreadable (neither).
Result<std::unique_ptr<Store>> open_store(const std::filesystem::path& path, const Limits& limits = {});
/// Fails with broken (not a ZIP, cut off), unreadable, not_found, invalid (a name that leads out), limit (its
/// directory).
Result<std::unique_ptr<Store>> open_zip(const std::filesystem::path& path, const Limits& limits);
std::unique_ptr<Store> open_folder(const std::filesystem::path& path, const Limits& limits);

Error leads_out(const std::filesystem::path& path, const std::string& name);

}  // namespace hairline::archive
