#include "timing.hpp"

#include <fmt/format.h>
#include <sys/resource.h>
#include <sys/utsname.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cstdlib>
#include <ctime>
#include <fstream>
#include <thread>

#include "hairline/memory.hpp"

namespace hairline::bench {
namespace {

double now_s(clockid_t clock) {
  timespec now{};
  clock_gettime(clock, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

std::string timed(Memory memory, const std::function<nlohmann::json()>& work) {
  if (memory == Memory::kept) keep_freed_memory();
  const double cpu_s = cpu_now_s(), wall_s = wall_now_s();
  nlohmann::json found = work();
  rusage used{};
  getrusage(RUSAGE_SELF, &used);
  if (found.is_object()) {
    found["cpu_s"] = cpu_now_s() - cpu_s;
    found["wall_s"] = wall_now_s() - wall_s;
    found["peak_mb"] = static_cast<double>(used.ru_maxrss) / 1024;
    found["page_faults"] = used.ru_minflt;
  }
  return found.dump();
}

std::string field_of(const char* file, const std::string& name) {
  std::ifstream in(file);
  for (std::string line; std::getline(in, line);) {
    if (line.rfind(name, 0) == 0) return line.substr(line.find_first_not_of(" \t:", name.size()));
  }
  return "unknown";
}

}  // namespace

double cpu_now_s() {
  return now_s(CLOCK_PROCESS_CPUTIME_ID);
}
double wall_now_s() {
  return now_s(CLOCK_MONOTONIC);
}

nlohmann::json in_child(Memory memory, const std::function<nlohmann::json()>& work) {
  int ends[2];
  if (pipe(ends) != 0) return "no pipe";
  const pid_t child = fork();
  if (child < 0) return "no child process";
  if (child == 0) {
    close(ends[0]);
    const std::string text = timed(memory, work);
    const bool written = write(ends[1], text.data(), text.size()) == static_cast<ssize_t>(text.size());
    _exit(written ? 0 : 1);
  }
  close(ends[1]);
  std::string text;
  char part[4096];
  for (ssize_t got; (got = read(ends[0], part, sizeof part)) > 0;) text.append(part, static_cast<std::size_t>(got));
  close(ends[0]);
  int status = 0;
  waitpid(child, &status, 0);
  if (status != 0) return "the measurement ended early";
  return nlohmann::json::parse(text);
}

nlohmann::json machine() {
  double load[3] = {0, 0, 0};
  if (getloadavg(load, 3) != 3) load[0] = -1;
  utsname system{};
  uname(&system);
  return {{"cpu", field_of("/proc/cpuinfo", "model name")},
          {"cores", std::thread::hardware_concurrency()},
          {"memory", field_of("/proc/meminfo", "MemTotal")},
          {"system", fmt::format("{} {}", system.sysname, system.release)},
          {"compiler", BENCH_COMPILER},
          {"flags", BENCH_FLAGS},
          {"build_type", BENCH_BUILD_TYPE},
          {"load_1_min", load[0]}};
}

}  // namespace hairline::bench
