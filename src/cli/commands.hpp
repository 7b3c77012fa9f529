// One function per command; each returns the exit status and has told everything.
#pragma once
#include "console.hpp"
#include "options.hpp"

namespace hairline::cli {

inline constexpr int status_fine = 0, status_found = 1, status_not_checked = 2;

int run_check(const CheckOptions& options, const Console& console);
int run_queue(const QueueOptions& options, const Console& console);
int run_demo(const DemoOptions& options, const Console& console);
int run_coupon(const CouponOptions& options, const Console& console);
int run_record_new(const RecordNewOptions& options, const Console& console);
int run_record_read(const RecordReadOptions& options, const Console& console);
int run_record_fit(const RecordFitOptions& options, const Console& console);
int run_record_show(const RecordShowOptions& options, const Console& console);
int run_record_plan(const RecordPlanOptions& options, const Console& console);

// Tells the error; 130 when it is the person's own interrupt, else 2.
int fail(const Error& error);
Error cancelled(const std::string& file);
// Whether a verdict reaches the level of --fail-on.
bool reaches(Verdict verdict, FailOn level);
// Today as YYYY-MM-DD, or `given` when that is not empty.
std::string date_or_today(const std::string& given);

}  // namespace hairline::cli
