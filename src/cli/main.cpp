#include <unistd.h>

#include <csignal>
#include <exception>

#include "app.hpp"
#include "hairline/memory.hpp"

using namespace hairline;
using namespace hairline::cli;

namespace {

Progress* watched = nullptr;                            // a signal handler is handed nothing
static_assert(std::atomic<bool>::is_always_lock_free);  // so it may touch the flag

extern "C" void on_interrupt(int) {
  if (watched->cancelled()) ::_exit(status_interrupted);
  watched->cancel();
}

// Ctrl-C and its like cancel `progress`; the second time the program ends at once. A signal the program was started to
// ignore (in the background of a script, or to outlive its terminal) stays ignored. A closed pipe and a file grown
// beyond its limit become errors of writing.
void watch_interrupts(Progress& progress) {
  watched = &progress;
  struct ::sigaction action {
  }, inherited{};
  action.sa_handler = on_interrupt;
  ::sigemptyset(&action.sa_mask);
  action.sa_flags = SA_RESTART;
  for (const int signal : {SIGINT, SIGTERM, SIGHUP}) {
    ::sigaction(signal, nullptr, &inherited);
    if (inherited.sa_handler != SIG_IGN) ::sigaction(signal, &action, nullptr);
  }
  std::signal(SIGPIPE, SIG_IGN);
  std::signal(SIGXFSZ, SIG_IGN);
}

}  // namespace

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
