#include <exception>

#include "app.hpp"
#include "hairline/memory.hpp"
#include "interrupt.hpp"

using namespace hairline;
using namespace hairline::cli;

int main(int argc, char** argv) {
  static Progress progress;  // outlives every signal
  keep_freed_memory();
  watch_interrupts(progress);
  try {  // out of memory, or out of threads: the only things that are thrown
    Context context{.progress = progress, .console = look_at_console(), .command = typed_again(argc, argv)};
    const auto app = build_app(context);
    return run_app(*app, context, argc, argv);
  } catch (const std::exception& error) {
    complain(std::string("stopped, the machine has no room left (") + error.what() + ").");
    return status_not_checked;
  }
}
