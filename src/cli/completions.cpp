// completions: the script that completes hairline in a shell; packages call it, so it is not in help.
#include <fmt/format.h>

#include "commands.hpp"
#include "completion_script.hpp"
#include "options.hpp"

namespace hairline::cli {
namespace {

struct Options {
  const CLI::App* app = nullptr;  // the whole tree
  Shell shell = Shell::bash;
};

Result<Shell> parse_shell(const std::string& name) {
  if (name == "bash") return Shell::bash;
  if (name == "zsh") return Shell::zsh;
  if (name == "fish") return Shell::fish;
  return tl::unexpected(usage(fmt::format("\"{}\" is no shell", name), "bash, zsh or fish", ""));
}

int run(const Options& options, const Context&) {
  return tell(completion_script(*options.app, options.shell));
}

}  // namespace

void add_completions(CLI::App& app, Context& context) {
  CLI::App& command = add_command(app, "completions", "Print the script that completes hairline in a shell",
                                  "  hairline completions bash > hairline");
  command.group("");
  Options& options = options_of(command, context, run);
  options.app = &app;
  add_parsed(command, "shell", options.shell, parse_shell, "bash|zsh|fish", "")->required();
}

}  // namespace hairline::cli
