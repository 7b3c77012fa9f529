/// Jobs of the tests through the whole program, with every setting open.
#pragma once
#include <filesystem>
#include <functional>
#include <optional>
#include <string>

#include "hairline/analyse.hpp"
#include "hairline/archive.hpp"
#include "stacks.hpp"

namespace hairline::job_run {

/// A folder of its own under the system's temporary folder; gone at the end.
struct Folder {
  std::filesystem::path path;
  Folder();
  ~Folder();
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
};

/// Judged at this time (none: the job's own), on two threads, everything else as usual.
AnalyseSettings judged_at(std::optional<double> exposure_s);

/// Opens and analyses; a failure fails the running test. Without a record the job is measured only.
Report analyse_file(const std::filesystem::path& file, const ResinRecord* record, const AnalyseSettings& settings,
                    Pictures* pictures = nullptr);
/// The same for a drawn case, through an archive that is gone afterwards.
Report analyse_case(const stacks::Case& drawn, const AnalyseSettings& settings, Pictures* pictures = nullptr);
/// A record with this fit and no readings.
ResinRecord record_of(const CureModel& model);

/// Times rise, and each row is what a check at that time finds: counts exactly, sums within 1 % (the project's own).
void check_rows(const Report& report, const std::function<Report(double exposure_s)>& check_at);

}  // namespace hairline::job_run
