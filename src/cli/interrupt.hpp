// Ctrl-C and its like: the running work is cancelled; the second time the program ends at once.
#pragma once
#include "hairline/progress.hpp"

namespace hairline::cli {

inline constexpr int interrupted_status = 130;

// Installs the handlers and has SIGPIPE ignored. Call once.
void watch_interrupts();
// The one progress of the program; an interrupt cancels it.
Progress& progress();

}  // namespace hairline::cli
