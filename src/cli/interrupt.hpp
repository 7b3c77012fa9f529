// Ctrl-C and its like: the running work is cancelled; the second time the program ends at once.
#pragma once
#include "hairline/progress.hpp"

namespace hairline::cli {

// Installs the handlers, which cancel `progress` until the program ends, and has SIGPIPE ignored. Call once.
void watch_interrupts(Progress& progress);

}  // namespace hairline::cli
