/// How much memory there is, and how a program that reads layers should hold it.
#pragma once
#include <cstdint>

namespace hairline {

/// Half of what the machine has, or of what a control group leaves this program (Linux, version 2 or 1), bytes. 1 GB
/// where the system does not say.
std::uint64_t half_of_memory();

/// What a job with masks of so many pixels may take where nothing else is asked for, bytes: a large plate may need much
/// by its size, what is drawn on it may not. At most half_of_memory.
std::uint64_t usual_memory_bytes(std::uint64_t pixels);

/// Not done by the library; a program may. Layers come and go by the thousand in blocks of megabytes. Handing each back
/// to the system, and taking it anew in pages of 4 KiB, costs more than all the measuring (every page is a fault, dear
/// on virtual machines). So freed memory is kept for the next layer, all threads share one heap (what one frees another
/// takes), and the first 256 MiB of it are asked for in large pages. For a program's start, before other threads run;
/// does nothing where the system has no such settings (other than Linux with glibc).
void keep_freed_memory();

/// Gives freed memory back all the same: after work that left it in many small pieces, before work that may take all
/// that is allowed. Does nothing where the system has no such call.
void give_back_freed_memory();

}  // namespace hairline
