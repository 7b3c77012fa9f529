// Ctrl-C and its like: the running work is cancelled; the second time the program ends at once.
#pragma once
#include "hairline/progress.hpp"

namespace hairline::cli {

// Installs the handlers, which cancel `progress` until the program ends; a signal the program was started to ignore
// (in the background of a script, or to outlive its terminal) stays ignored. A closed pipe and a file grown beyond its
// limit become errors of writing. Call once.
void watch_interrupts(Progress& progress);

}  // namespace hairline::cli
