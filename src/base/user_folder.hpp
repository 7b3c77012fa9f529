/// Where a person's own files of this program lie, by the XDG Base Directory Specification 0.8.
#pragma once
#include <filesystem>

namespace hairline {

/// hairline in the folder that `variable` names, else in `in_home` of $HOME; empty where neither is an absolute path.
std::filesystem::path user_folder(const char* variable, const char* in_home);

}  // namespace hairline
