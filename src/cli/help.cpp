#include "help.hpp"

#include <algorithm>
#include <sstream>

#include "hairline/files.hpp"

namespace hairline::cli {
namespace {

// Where a broken line goes on: below the entry's text, which two spaces or more set apart from its name.
std::size_t indent_of(const std::string& line) {
  const std::size_t first = std::min(line.find_first_not_of(' '), line.size());
  const std::size_t gap = line.find("  ", first);
  return gap == std::string::npos ? first : line.find_first_not_of(' ', gap);
}

void add_fitted(std::string line, std::size_t columns, std::string& out) {
  const bool example = line.starts_with("  hairline ");
  const std::string indent(example ? 6 : indent_of(line), ' ');
  const std::size_t room = example ? columns - 2 : columns;  // for " \"
  while (line.size() > columns) {
    const std::size_t space = line.find_last_of(' ', room);
    if (space == std::string::npos || space <= indent.size()) break;
    out += line.substr(0, space) + (example ? " \\\n" : "\n");
    line = indent + line.substr(space + 1);
  }
  out += line + "\n";
}

}  // namespace

std::string fitted(const std::string& help, std::size_t columns) {
  std::string out;
  std::istringstream lines(help);
  for (std::string line; std::getline(lines, line);) add_fitted(line, std::max<std::size_t>(columns, 60), out);
  return out;
}

std::string meant_by(const std::string& word, const CLI::App& command) {
  std::vector<std::string> names;
  if (word.front() != '-') {
    for (const CLI::App* below : command.get_subcommands({})) names.push_back(below->get_name());
    return nearest_name(word, names);
  }
  for (const CLI::App* app = &command; app != nullptr; app = app->get_parent())
    for (const CLI::Option* option : app->get_options())
      if (option->nonpositional() && !option->get_group().empty())
        for (const std::string& name : option->get_lnames()) names.push_back("--" + name);
  return nearest_name(word.substr(0, word.find('=')), names);
}

}  // namespace hairline::cli
