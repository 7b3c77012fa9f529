// A line on stderr that tells how far the work is; nothing at all when stderr is no terminal.
#pragma once
#include <string>
#include <thread>

#include "commands.hpp"

namespace hairline::cli {

class ProgressBar {
 public:
  ProgressBar(const Progress& progress, const Console& console, std::string name);
  ~ProgressBar();  // takes the line away again
  ProgressBar(const ProgressBar&) = delete;
  ProgressBar& operator=(const ProgressBar&) = delete;

 private:
  std::jthread thread_;
};

// What `work` returns; the line is there while it works.
template <class Work>
auto with_bar(const Context& context, std::string name, Work work) {
  const ProgressBar bar(context.progress, context.console, std::move(name));
  return work();
}

}  // namespace hairline::cli
