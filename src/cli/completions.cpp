// completions: the script that completes hairline in a shell; packages call it, so it is not in help.
#include <fmt/format.h>

#include <map>

#include "commands.hpp"
#include "completion_script.hpp"

namespace hairline::cli {
namespace {

struct Options {
  const CLI::App* app = nullptr;  // the whole tree
  Shell shell = Shell::bash;
};

int run(const Options& options, const Context&) {
  return tell(completion_script(*options.app, options.shell));
}

}  // namespace

void add_completions(CLI::App& app, Context& context) {
  static const std::map<std::string, Shell> shells = {
      {"bash", Shell::bash}, {"zsh", Shell::zsh}, {"fish", Shell::fish}};
  CLI::App& command = add_command(app, "completions", "Print the script that completes hairline in a shell",
                                  "  hairline completions bash > hairline");
  command.group("");
  Options& options = options_of(command, context, run);
  options.app = &app;
  const auto check = [](std::string& name) {
    return shells.count(name) > 0 ? std::string() : fmt::format("\"{}\" is no shell; expected bash, zsh or fish", name);
  };
  command
      .add_option_function<std::string>("shell",
                                        [&options](const std::string& name) { options.shell = shells.at(name); })
      ->required()
      ->type_name("bash|zsh|fish")
      ->check(CLI::Validator(check, ""));
}

}  // namespace hairline::cli
