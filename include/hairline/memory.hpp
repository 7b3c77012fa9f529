/// How a program that reads layers should hold its memory. The library does not set this; a program may.
#pragma once

namespace hairline {

/// Layers come and go by the thousand in blocks of megabytes. Handing each back to the system, and taking it anew in
/// pages of 4 KiB, costs more than all the measuring (every page is a fault, dear on virtual machines). So freed memory
/// is kept for the next layer, all threads share one heap (what one frees another takes), and the first 256 MiB of it
/// are asked for in large pages. For a program's start, before other threads run; does nothing where the system has no
/// such settings (other than Linux with glibc).
void keep_freed_memory();

}  // namespace hairline
