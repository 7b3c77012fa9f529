// The demo jobs' reports through their file.
#include <catch2/catch.hpp>

#include "hairline/demo.hpp"
#include "job_run.hpp"

using namespace hairline;

TEST_CASE("job: a report that is read gives the same bytes as the one that was written") {
  const job_run::Folder folder;
  const auto files = write_demo(folder.path, {.night_long = false});
  REQUIRE(files);
  const ResinRecord records[] = {harbour_grey_record(), old_lamp_record()};
  std::size_t jobs = 0;
  for (const std::filesystem::path& file : *files) {
    if (file.extension() != ".zip") continue;
    for (const ResinRecord* record : {&records[0], &records[1], static_cast<const ResinRecord*>(nullptr)}) {
      INFO(file);
      const Report report = job_run::analyse_file(file, record, job_run::judged_at({}));
      const auto read = parse_report(to_json(report), "report.json");
      REQUIRE(read);
      CHECK(to_json(*read) == to_json(report));
      CHECK(to_csv(*read) == to_csv(report));
      ++jobs;
    }
  }
  CHECK(jobs == 12);
}
