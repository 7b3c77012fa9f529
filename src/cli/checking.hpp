// One job, opened and analysed, with its progress shown.
#pragma once
#include <optional>
#include <string>

#include "choose_record.hpp"
#include "console.hpp"
#include "hairline/report.hpp"
#include "options.hpp"

namespace hairline::cli {

// `records` null: measured only.
struct Checking {
  const Records* records = nullptr;
  Judging judging;
  SweepSettings sweep;
};
Result<Report> check_job(const std::string& job, const Checking& checking, const Console& console);

}  // namespace hairline::cli
