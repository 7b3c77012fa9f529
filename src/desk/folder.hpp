/// The folder of a desk: jobs and records as the person keeps them, and in `desk` what the desk itself keeps. Names
/// that come from outside are looked up in a listing, never made into paths.
#pragma once
#include <filesystem>
#include <string>
#include <vector>

#include "hairline/record_edit.hpp"
#include "hairline/result.hpp"

namespace hairline::desk {

class Folder {
 public:
  /// Fails with not_found, unreadable, unwritable.
  static Result<Folder> open(const std::filesystem::path& root);

  const std::filesystem::path& root() const { return root_; }
  /// Of the desk's own: "cache", "coupons", "outcomes", "descriptions", "checks". Made where it is missing.
  Result<std::filesystem::path> own(const std::string& part) const;
  /// A JSON file there about a job or a record of this name; long names are shortened. Fails as `own` does.
  Result<std::filesystem::path> own_file(const std::string& part, const std::string& name) const;
  std::filesystem::path queue_file() const { return root_ / "desk" / "night.json"; }

  /// Names of the jobs that lie in the folder itself, in natural order: archives (.zip, .3mf) and folders of masks.
  std::vector<std::string> jobs() const;
  /// Fails with not_found.
  Result<std::filesystem::path> job(const std::string& name) const;
  /// Fails as find_records does.
  Result<std::vector<FoundRecord>> records() const;
  /// Of one in the folder, by its file name. Fails with not_found.
  Result<std::filesystem::path> record(const std::string& name) const;

  /// Where a new file of this foreign name goes: its last component, made harmless, with " 2", " 3" where that is
  /// taken. Fails with usage: nothing is left of the name.
  Result<std::filesystem::path> place_for(const std::string& foreign_name) const;
  /// What is there already under that name and its numbers, in their order. Fails as place_for does.
  Result<std::vector<std::filesystem::path>> namesakes(const std::string& foreign_name) const;

 private:
  // The namesakes, and behind them the free place.
  Result<std::vector<std::filesystem::path>> places_for(const std::string& foreign_name) const;
  std::filesystem::path root_;
};

}  // namespace hairline::desk
