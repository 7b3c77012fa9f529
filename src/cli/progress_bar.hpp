// A line on stderr that tells how far the work is; nothing at all when stderr is no terminal.
#pragma once
#include <string>
#include <thread>

#include "console.hpp"
#include "hairline/progress.hpp"

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

}  // namespace hairline::cli
