#include "interrupt.hpp"

#include <unistd.h>

#include <csignal>

#include "commands.hpp"

namespace hairline::cli {
namespace {

Progress* watched = nullptr;                            // a signal handler is handed nothing
static_assert(std::atomic<bool>::is_always_lock_free);  // so it may touch the flag

extern "C" void on_interrupt(int) {
  if (watched->cancelled()) ::_exit(status_interrupted);
  watched->cancel();
}

}  // namespace

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

}  // namespace hairline::cli
