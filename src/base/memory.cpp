#include "hairline/memory.hpp"

#include <cstdint>
#include <cstdlib>
#if defined(__GLIBC__)
#include <malloc.h>
#include <sys/mman.h>
#endif

namespace hairline {

void keep_freed_memory() {
#if defined(__GLIBC__)
  mallopt(M_MMAP_THRESHOLD, 1 << 30);
  mallopt(M_TRIM_THRESHOLD, 1 << 30);
  mallopt(M_TOP_PAD, 16 << 20);
  mallopt(M_ARENA_MAX, 1);
  // What is taken from the heap here and freed at once stays the heap's, untouched and without cost until it is used.
  constexpr std::size_t room = std::size_t{256} << 20, page = std::size_t{2} << 20;
  void* taken = std::malloc(room);
  if (taken == nullptr) return;
  const auto from = (reinterpret_cast<std::uintptr_t>(taken) + page - 1) / page * page;
  madvise(reinterpret_cast<void*>(from), room - page, MADV_HUGEPAGE);  // advice: it may well be declined
  std::free(taken);
#endif
}

}  // namespace hairline
