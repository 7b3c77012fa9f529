#include "interrupt.hpp"

#include <unistd.h>

#include <csignal>

namespace hairline::cli {
namespace {

Progress the_progress;
static_assert(std::atomic<bool>::is_always_lock_free);  // so a signal handler may touch it

extern "C" void on_interrupt(int) {
  if (the_progress.cancelled()) ::_exit(interrupted_status);
  the_progress.cancel();
}

}  // namespace

void watch_interrupts() {
  struct ::sigaction action {};
  action.sa_handler = on_interrupt;
  ::sigemptyset(&action.sa_mask);
  action.sa_flags = SA_RESTART;
  ::sigaction(SIGINT, &action, nullptr);
  ::sigaction(SIGTERM, &action, nullptr);
  ::sigaction(SIGHUP, &action, nullptr);
  struct ::sigaction ignore {};
  ignore.sa_handler = SIG_IGN;
  ::sigaction(SIGPIPE, &ignore, nullptr);
}

Progress& progress() {
  return the_progress;
}

}  // namespace hairline::cli
