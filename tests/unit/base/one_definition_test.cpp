// The one-definition rule over the files of src and include (C++20, [basic.def.odr]): two structs of one name in one
// namespace, each in a file of its own, are linked together without a word, and one is then built as the other.
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <map>
#include <set>
#include <sstream>
#include <string>
#include <vector>

namespace fs = std::filesystem;

namespace {

// The name in `line` of a type that is defined there, at its first column; empty: none, or a member as A::B.
std::string defined_in(const std::string& line) {
  for (const std::string key : {"struct ", "class ", "enum class ", "union "}) {
    if (line.rfind(key, 0) != 0 || line.find('{') == std::string::npos) continue;
    const std::size_t end = line.find_first_of(" :<{", key.size());
    if (line[end] == ' ') return line.substr(key.size(), end - key.size());
  }
  return {};
}

// Types of named namespaces that `file` defines, with their namespace. `open` holds the namespaces that are not closed.
std::set<std::string> types_of(std::istream& file, std::vector<std::string>& open) {
  std::set<std::string> names;
  std::string before;
  for (std::string line; std::getline(file, line); before = line) {
    const std::string name = defined_in(line);
    const bool begins = line.rfind("namespace ", 0) == 0 && line.back() == '{';
    // clang-format names each namespace at its end, but for one that holds a single declaration. The end of a function
    // follows an indented line.
    const bool ends = line.rfind("}  // namespace", 0) == 0 || (line == "}" && !before.empty() && before[0] != ' ');
    if (begins) open.push_back(line.size() > 12 ? line.substr(10, line.size() - 12) : "");
    if (ends && !open.empty()) open.pop_back();
    std::string inside;
    for (const std::string& one : open) inside = one.empty() || inside == "unnamed" ? "unnamed" : inside + one + "::";
    if (!name.empty() && !inside.empty() && inside != "unnamed") names.insert(inside + name);
  }
  return names;
}

}  // namespace

TEST_CASE("each type of a named namespace is defined in one file") {
  std::map<std::string, std::set<std::string>> files_of;
  for (const char* folder : {"src", "include"})
    for (const auto& entry : fs::recursive_directory_iterator(fs::path(HAIRLINE_SOURCE_DIR) / folder)) {
      if (entry.path().extension() != ".cpp" && entry.path().extension() != ".hpp") continue;
      std::ifstream file(entry.path());
      std::vector<std::string> open;
      for (const std::string& name : types_of(file, open)) files_of[name].insert(entry.path().string());
      CHECK(open.empty());
    }
  CHECK(files_of.count("hairline::Report") == 1);  // it does look
  for (const auto& [name, files] : files_of) {
    INFO(name << ", first in " << *files.begin() << ", last in " << *files.rbegin());
    CHECK(files.size() == 1);
  }
}

TEST_CASE("definitions are told by their namespace") {
  std::istringstream file(
      "namespace a {\nstruct Mark {\n};\nstruct Later;\nstruct Mark::Inner {\n};\nnamespace b {\nclass Mark : Base "
      "{};\n}\n"
      "namespace {\nstruct Hidden {\n};\nenum class Also { x };\n}  // namespace\nenum class Fate : int {\n};\n}  // "
      "namespace a\n");
  std::vector<std::string> open;
  CHECK(types_of(file, open) == std::set<std::string>{"a::Mark", "a::b::Mark", "a::Fate"});
  CHECK(open.empty());
}
