/// The *.json files of a folder.
#pragma once
#include <filesystem>
#include <string>
#include <vector>

#include "hairline/result.hpp"

namespace hairline {

/// By name, folders of such a name left out; `wanted` is what an error expects. Fails with not_found (no such folder)
/// and unreadable.
Result<std::vector<std::filesystem::path>> json_files_in(const std::filesystem::path& folder,
                                                         const std::string& wanted);

}  // namespace hairline
