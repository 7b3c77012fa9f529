#include "progress_bar.hpp"

#include <chrono>
#include <condition_variable>
#include <mutex>

#include "hairline/files.hpp"

namespace hairline::cli {
namespace {

constexpr std::string_view erase_line = "\r\x1b[K";

void run(std::stop_token stop, const Progress& progress, std::uint32_t columns, const std::string& name) {
  using Clock = std::chrono::steady_clock;
  const auto start = Clock::now();
  std::mutex mutex;
  std::condition_variable_any wake;
  std::unique_lock lock(mutex);
  while (!wake.wait_for(lock, stop, std::chrono::milliseconds(100), [&stop] { return stop.stop_requested(); })) {
    const double elapsed_s = std::chrono::duration<double>(Clock::now() - start).count();
    std::string line(erase_line);
    line += name + progress_text(progress.done(), progress.total(), elapsed_s, columns);
    print_aside(line);
  }
  print_aside(erase_line);
}

}  // namespace

std::jthread progress_bar(const Progress& progress, const Console& console, std::string name) {
  if (!console.progress) return {};
  name = visible(name) + "  ";
  // A long name would leave no room for the bar and could wrap.
  if (name.size() * 2 > console.error_columns) name.clear();
  const auto columns = static_cast<std::uint32_t>(console.error_columns - name.size());
  return std::jthread([&progress, columns, name = std::move(name)](std::stop_token stop) {
    run(std::move(stop), progress, columns, name);
  });
}

}  // namespace hairline::cli
