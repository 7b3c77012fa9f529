/// A drawn case through the whole program: written as an archive, opened, analysed.
#pragma once
#include <string>

#include "hairline/analyse.hpp"
#include "stacks.hpp"

namespace hairline::whole_run {

struct Options {
  double exposure_s = 2.4;
  std::uint32_t threads = 2;
};

/// A failure of any step fails the running test. The archive is gone afterwards.
Report analyse_case(const stacks::Case& drawn, const Options& options = {});

}  // namespace hairline::whole_run
