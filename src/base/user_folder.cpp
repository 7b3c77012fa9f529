#include "user_folder.hpp"

#include <cstdlib>

namespace hairline {

std::filesystem::path user_folder(const char* variable, const char* in_home) {
  const auto absolute = [](const char* name) {
    const char* value = std::getenv(name);
    return std::filesystem::path(value != nullptr && *value == '/' ? value : "");
  };
  std::filesystem::path folder = absolute(variable);
  if (const auto home = absolute("HOME"); folder.empty() && !home.empty()) folder = home / in_home;
  return folder.empty() ? folder : folder / "hairline";
}

}  // namespace hairline
