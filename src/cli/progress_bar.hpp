// A line on stderr that tells how far the work is; nothing at all when stderr is no terminal.
#pragma once
#include <string>
#include <thread>

#include "commands.hpp"

namespace hairline::cli {

// Shows the line as long as it lives, and takes it away again.
std::jthread progress_bar(const Progress& progress, const Console& console, std::string name);

// What `work` returns; the line is there while it works.
template <class Work>
auto with_bar(const Context& context, std::string name, Work work) {
  const std::jthread bar = progress_bar(context.progress, context.console, std::move(name));
  return work();
}

}  // namespace hairline::cli
