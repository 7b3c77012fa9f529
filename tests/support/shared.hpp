/// The open data that tests read where it is at hand (HAIRLINE_SHARED names its folder or the one above).
#pragma once
#include <cstdlib>
#include <filesystem>
#include <iostream>
#include <optional>
#include <string>
#include <vector>

namespace hairline::test {

/// One file or folder of it; none, having said that the check is skipped, where it is not here.
inline std::optional<std::filesystem::path> shared(const std::string& name) {
  namespace fs = std::filesystem;
  std::vector<fs::path> places;
  if (const char* set = std::getenv("HAIRLINE_SHARED")) places = {fs::path(set), fs::path(set) / "data"};
  places.push_back(fs::path(HAIRLINE_SOURCE_DIR) / ".." / "shared" / "data");
  for (const fs::path& place : places)
    if (fs::exists(place / name)) return place / name;
  std::cout << "skipped: shared data " << name << " is not here (set HAIRLINE_SHARED)\n";
  return {};
}

}  // namespace hairline::test
