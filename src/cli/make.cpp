// demo: files written from code.
#include <fmt/format.h>

#include "commands.hpp"
#include "hairline/demo.hpp"
#include "hairline/files.hpp"
#include "interrupt.hpp"
#include "progress_bar.hpp"

namespace hairline::cli {

int run_demo(const DemoOptions& options, const Console& console) {
  const auto written = [&] {
    const ProgressBar bar(progress(), console, "demo");
    return write_demo(options.folder, {.night_long = !options.small_only}, &progress());
  }();
  if (!written) return fail(written.error());
  std::string text;
  for (const auto& path : *written) text += visible(path.string()) + "\n";
  const auto printed = print(text);
  return printed ? status_fine : fail(printed.error());
}

}  // namespace hairline::cli
