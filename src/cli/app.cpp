#include "app.hpp"

#include <algorithm>
#include <sstream>

#include "hairline/files.hpp"
#include "hairline/version.hpp"
#include "options.hpp"

namespace hairline::cli {
namespace {

constexpr const char* purpose =
    "Hairline reads a sliced print job for a masked resin printer before the print starts, and says which fine details "
    "will not be there in the morning, which gaps will have closed, what will come loose, and which exposure is safer.";

constexpr const char* more =
    "Examples:\n"
    "  hairline demo harbour\n"
    "  hairline check harbour/gallery-small.zip --record harbour/harbour-grey.json\n"
    "  hairline check --help\n"
    "\n"
    "Exit status: 0 checked, and nothing at the --fail-on verdict (default hold); 1 checked, and something is; 2 not "
    "checked: bad usage or input; 130 interrupted.";

// ---- help ----

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

// Lines over `columns` (taken as 60 at least) are broken at spaces and go on below the text of their entry; example
// commands are broken so that they can still be pasted into a shell.
std::string fitted(const std::string& help, std::size_t columns) {
  std::string out;
  std::istringstream lines(help);
  for (std::string line; std::getline(lines, line);) add_fitted(line, std::max<std::size_t>(columns, 60), out);
  return out;
}

// ---- wrong usage ----

// The option of `command` or those above it, or the command below it, that is nearest to `word`; empty: none is near.
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

// CLI11 names the option in front of its message; several lines become one paragraph.
std::string one_line(std::string text) {
  for (char& c : text)
    if (c == '\n' || c == '\r') c = ' ';
  while (!text.empty() && (text.back() == ' ' || text.back() == '.')) text.pop_back();
  return text;
}

const CLI::App& innermost(const CLI::App& app) {
  const auto chosen = app.get_subcommands();
  return chosen.empty() ? app : innermost(*chosen.front());
}

std::string path_of(const CLI::App& app) {
  return app.get_parent() == nullptr ? app.get_name() : path_of(*app.get_parent()) + " " + app.get_name();
}

Error usage_error(const CLI::App& app, const CLI::ParseError& error) {
  const CLI::App& command = innermost(app);
  std::string said = one_line(error.what());
  if (said.starts_with(": ")) said.erase(0, 2);  // the name of an option that is hidden is left out
  Error told{.kind = ErrorKind::usage, .found = std::move(said), .advice = "See `" + path_of(command) + " --help`."};
  const std::vector<std::string> strays = app.remaining(true);
  if (strays.empty()) return told;
  const bool command_missing = strays.front().front() != '-' && !command.get_subcommands({}).empty();
  if (command_missing) told.found = "there is no command \"" + strays.front() + "\"";
  if (const std::string meant = meant_by(strays.front(), command); !meant.empty())
    told.advice = "Did you mean \"" + meant + "\"? " + told.advice;
  return told;
}

}  // namespace

std::unique_ptr<CLI::App> build_app(Context& context) {
  auto app = std::make_unique<CLI::App>(purpose, "hairline");
  app->footer(more);
  app->set_version_flag("--version", "hairline " HAIRLINE_VERSION);
  add_count(*app, "--columns", context.console.columns, "Width of the terminal", 1, 100000)->group("");
  app->require_subcommand(1);
  app->fallthrough();
  for (AddCommand* add : all_commands) add(*app, context);
  return app;
}

int run_app(CLI::App& app, Context& context, int argc, const char* const* argv) {
  if (argc < 2) {  // nothing was asked for, so nothing was checked
    print_aside(fitted(app.help(), context.console.error_columns));
    return status_not_checked;
  }
  try {
    app.parse(argc, argv);
  } catch (const CLI::CallForHelp&) {
    return tell(fitted(app.help(), context.console.columns));
  } catch (const CLI::CallForVersion& version) {
    return tell(std::string(version.what()) + "\n");
  } catch (const CLI::ParseError& error) {
    return fail(usage_error(app, error));
  }
  return context.run();
}

}  // namespace hairline::cli
