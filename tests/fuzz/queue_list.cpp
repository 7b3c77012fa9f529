// A list of jobs names one job in each of its lines, but for the empty ones and comments.
#include "hairline/check.hpp"
#include "target.hpp"

void hairline::fuzz::run(std::string_view input) {
  const std::filesystem::path list = folder() / "tonight.txt";
  write_file(list, input);
  const auto jobs = find_jobs({list.string()});
  if (!jobs) return expect_told(jobs.error());
  expect(static_cast<std::ptrdiff_t>(jobs->size()) <= 1 + std::count(input.begin(), input.end(), '\n'),
         "no more jobs than lines");
  for (const std::string& job : *jobs) {
    expect(job.find('\n') == std::string::npos, "a job is one line");
    expect(std::filesystem::path(job).is_absolute(), "a job is found from the list's folder");
    expect(input.find(std::filesystem::path(job).filename().string()) != std::string_view::npos,
           "a job is named in the list");
  }
}
