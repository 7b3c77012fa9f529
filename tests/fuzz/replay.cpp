// A target as an ordinary test: runs every file of the folders named, in the order of names.
#include <set>

#include "target.hpp"

int main(int count, char** arguments) {
  std::set<std::filesystem::path> files;
  for (int i = 1; i < count; ++i)
    for (const auto& entry : std::filesystem::directory_iterator(arguments[i])) files.insert(entry.path());
  for (const auto& file : files) {
    std::fprintf(stderr, "%s\n", file.c_str());  // the last one is to blame where a target ends the process
    hairline::fuzz::run(hairline::read_text(file).value());
  }
  std::printf("%zu inputs\n", files.size());
  return files.empty() ? 1 : 0;
}
