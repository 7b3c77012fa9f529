#include "hairline/memory.hpp"

#include <algorithm>
#include <cstdint>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#if defined(__GLIBC__)
#include <malloc.h>
#include <sys/mman.h>
#include <unistd.h>
#endif

namespace hairline {
namespace {

#if defined(__GLIBC__)

std::uint64_t installed() {
  const long pages = sysconf(_SC_PHYS_PAGES), page = sysconf(_SC_PAGESIZE);
  return pages > 0 && page > 0 ? static_cast<std::uint64_t>(pages) * static_cast<std::uint64_t>(page) : 0;
}

// The least limit of a control group and those above it, as `file` in each folder says; a word there means none.
std::uint64_t least_limit(const std::filesystem::path& root, const std::filesystem::path& group, const char* file) {
  std::uint64_t least = UINT64_MAX;
  for (std::filesystem::path at = group.relative_path();; at = at.parent_path()) {
    std::uint64_t limit = 0;
    if (std::ifstream(root / at / file) >> limit) least = std::min(least, limit);
    if (at.empty()) return least;
  }
}

std::uint64_t group_limit() {
  std::uint64_t least = UINT64_MAX;
  std::ifstream groups("/proc/self/cgroup");
  for (std::string line; std::getline(groups, line);) {
    const std::size_t kinds = line.find(':'), group = line.find(':', kinds + 1);
    if (group == std::string::npos) continue;
    const std::string kind = line.substr(kinds + 1, group - kinds - 1), path = line.substr(group + 1);
    if (kind.empty()) least = std::min(least, least_limit("/sys/fs/cgroup", path, "memory.max"));
    if (("," + kind + ",").find(",memory,") != std::string::npos)
      least = std::min(least, least_limit("/sys/fs/cgroup/memory", path, "memory.limit_in_bytes"));
  }
  return least;
}

#endif

}  // namespace

std::uint64_t half_of_memory() {
#if defined(__GLIBC__)
  if (const std::uint64_t all = installed(); all > 0) return std::min(all, group_limit()) / 2;
#endif
  return 1'000'000'000;
}

std::uint64_t usual_memory_bytes(std::uint64_t pixels) {
  return std::min(half_of_memory(), std::max<std::uint64_t>(960'000'000, 400'000'000 + 12 * pixels));
}

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

void give_back_freed_memory() {
#if defined(__GLIBC__)
  malloc_trim(0);
#endif
}

}  // namespace hairline
