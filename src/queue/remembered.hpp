/// Results of checks as they are kept in a ReportCache.
#pragma once
#include "hairline/night.hpp"

namespace hairline::queue {

/// All of a report, or what a row of the queue is made of.
enum class Part : std::uint8_t { whole, row };
/// A report with that alone.
Report row_part(const Report& report);

/// What is kept under a key: a report, or why there is none; nothing where it is not known. `file`: of the job, for the
/// error.
std::optional<Result<Report>> remembered(ReportCache& cache, Part part, const std::string& key,
                                         const std::string& file);
/// Keeps a report and its part, or an error that lies in the job itself, so that it would be found again.
void remember(ReportCache& cache, const std::string& key, const std::string& file, const Result<Report>& result);

}  // namespace hairline::queue
