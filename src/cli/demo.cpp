// demo: jobs and records drawn from code.
#include "hairline/demo.hpp"

#include "commands.hpp"
#include "outputs.hpp"
#include "progress_bar.hpp"

namespace hairline::cli {
namespace {

struct Options {
  std::string folder;
  bool small_only = false;
};

int run(const Options& options, const Context& context) {
  return tell_written(with_bar(context, "demo", [&] {
    return write_demo(options.folder, {.night_long = !options.small_only}, &context.progress);
  }));
}

}  // namespace

void add_demo(CLI::App& app, Context& context) {
  CLI::App& command = add_command(app, "demo", "Write demo jobs and records of an invented harbour museum's workshop",
                                  "  hairline demo harbour\n"
                                  "  hairline check harbour/gallery-small.zip --record harbour/harbour-grey.json");
  Options& options = options_of(command, context, run);
  add_output(command, "folder", options.folder, "Where to; made if missing", "DIR")->required();
  command.add_flag("--small", options.small_only, "Leave out the night-long job");
}

}  // namespace hairline::cli
