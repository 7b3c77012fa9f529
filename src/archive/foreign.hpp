// Archives of other programs: settings gathered from a description, from options and from the masks themselves, put
// into the form of a manifest and read as one.
#pragma once
#include <nlohmann/json_fwd.hpp>

#include "families.hpp"
#include "store.hpp"

namespace hairline::archive {

/// How a mask's pixels are meant.
struct MaskKind {
  bool invert = false;
  std::uint32_t subpixels = 1;
  bool plain() const { return !invert && subpixels == 1; }
};

/// An archive found to be readable.
struct Opened {
  JobSettings settings;
  std::vector<Entry> layers;  // index 0 is layer 1
  MaskKind masks;
};

/// "true" or "no", "On" or "0" as a flag; none for any other word.
std::optional<bool> flag_of(std::string_view text);

/// What has to be asked of the masks, seen on the first, the middle and the last.
struct Doubts {
  bool inverted = true;    ///< most of the border is white on all of them
  bool subpixels = false;  ///< red, green and blue differ somewhere
  bool grey = true;        ///< most pixels of all of them are between black and white
};
/// Precondition: there are layers. Fails as reading and decoding do.
Result<Doubts> doubts_of(const Store& store, const std::vector<Entry>& layers, const Picture& picture,
                         const std::string& file, const Limits& limits);
/// What to do where a family of masks has a rival.
inline constexpr const char* several_folders = "Where both are layers of one job, put all into one folder first.";
/// There is nothing in the archive that could be a mask.
Error no_masks(const std::string& file, const std::vector<Entry>& entries, const Family& family);

/// A small file of an archive, whole. Fails as Store::read does, and with limit.
Result<std::string> read_small(const Store& store, const Entry& entry, const std::string& file, const Limits& limits);
/// Fails with limit, broken (empty), unreadable (a folder).
Result<void> check_entry(const std::string& file, const Wanted& wanted, std::uint64_t most_bytes, const Limits& limits);

/// Puts layers in order and checks each entry. Fails as put_in_order and check_entry do, and with limit.
Result<void> order_and_check(std::vector<Entry>& layers, const Pattern& pattern, const Numbering& numbering,
                             const Limits& limits);

/// Is a manifest.json one of a layer archive? What is no JSON counts as one, so that its fault is told.
bool is_ours(const std::string& manifest);
/// A manifest with other settings in it; text that is no JSON stays as it is. `masks` takes what is said of them. Fails
/// with usage (a value that cannot be what it has to be).
Result<std::string> with_settings(const std::string& manifest, const std::vector<SettingValue>& set, MaskKind& masks);
/// The description to read an archive by, or null. Fails with mismatch (several fit), and as reading fails.
Result<const ArchiveDescription*> fitting(const Store& store, const std::vector<Entry>& entries,
                                          const std::string& file, const OpenOptions& options);
/// `entries`: all of the store's; `description` may be null. Fails as Archive::open does.
Result<Opened> open_foreign(const Store& store, const std::vector<Entry>& entries, const std::string& file,
                            const ArchiveDescription* description, const OpenOptions& options);

}  // namespace hairline::archive
