#include "job_run.hpp"

#include <catch2/catch.hpp>
#include <random>

namespace hairline::job_run {
namespace {

template <class T>
void require(const Result<T>& result) {
  INFO((result ? std::string() : to_paragraph(result.error())));
  REQUIRE(result.has_value());
}

}  // namespace

Folder::Folder()
    : path(std::filesystem::temp_directory_path() / ("hairline-job-" + std::to_string(std::random_device{}()))) {
  std::filesystem::create_directories(path);
}
Folder::~Folder() {
  std::error_code ignored;
  std::filesystem::remove_all(path, ignored);
}

AnalyseSettings judged_at(std::optional<double> exposure_s) {
  AnalyseSettings settings;
  settings.exposure_s = exposure_s;
  settings.threads = 2;
  return settings;
}

Report analyse_file(const std::filesystem::path& file, const ResinRecord* record, const AnalyseSettings& settings,
                    Pictures* pictures) {
  const Result<Archive> job = Archive::open(file);
  require(job);
  Progress progress;
  const Result<Report> report = analyse(*job, record, settings, progress, pictures);
  require(report);
  return *report;
}

Report analyse_case(const stacks::Case& drawn, const AnalyseSettings& settings, Pictures* pictures) {
  const Folder folder;
  const std::filesystem::path file = folder.path / "job.zip";
  auto writer = ArchiveWriter::create(file, drawn.settings);
  require(writer);
  for (const Layer& layer : drawn.layers) require(writer->add(layer));
  require(writer->finish());
  const ResinRecord record = record_of(drawn.model);
  return analyse_file(file, &record, settings, pictures);
}

ResinRecord record_of(const CureModel& model) {
  ResinRecord record;
  record.layer_height_mm = model.layer_height_mm;
  record.fit = model;
  return record;
}

namespace {

// The row that the listed details of a check make; base layers take no part.
SweepPoint row_of(const Report& report) {
  SweepPoint row;
  row.exposure_s = report.exposure_s;
  if (report.bulk) row.bulk_chance = report.bulk->chance;
  if (report.whole_fails) row.bulk_chance = 1;
  for (const Detail& detail : report.details) {
    if (!detail.lost || detail.base) continue;
    row.expected_losses += detail.probability;
    row.expected_mm += detail.probability * detail.harm_mm;
    if (detail.fate == Fate::fuse) row.expected_fuse_mm += detail.probability * detail.harm_mm;
    if (detail.state != State::will) continue;
    ++(detail.fate == Fate::vanish ? row.vanish : row.fuse);
    (detail.fate == Fate::vanish ? row.vanish_mm3 : row.fuse_mm3) += detail.volume_mm3;
  }
  return row;
}

}  // namespace

void check_rows(const Report& report, const std::function<Report(double exposure_s)>& check_at) {
  REQUIRE(report.suggestion.has_value());
  const std::vector<SweepPoint>& sweep = report.suggestion->sweep;
  REQUIRE(sweep.size() >= 2);
  for (std::size_t i = 0; i < sweep.size(); ++i) {
    if (i > 0) CHECK(sweep[i].exposure_s > sweep[i - 1].exposure_s);
    const SweepPoint found = row_of(check_at(sweep[i].exposure_s));
    CAPTURE(sweep[i].exposure_s);
    CHECK(sweep[i].vanish == found.vanish);
    CHECK(sweep[i].fuse == found.fuse);
    CHECK(sweep[i].vanish_mm3 == Approx(found.vanish_mm3).epsilon(0.01));
    CHECK(sweep[i].fuse_mm3 == Approx(found.fuse_mm3).epsilon(0.01));
    CHECK(sweep[i].expected_losses == Approx(found.expected_losses).epsilon(0.01));
    CHECK(sweep[i].expected_mm == Approx(found.expected_mm).epsilon(0.01));
    CHECK(sweep[i].expected_fuse_mm == Approx(found.expected_fuse_mm).epsilon(0.01).margin(1e-9));
    REQUIRE(sweep[i].bulk_chance.has_value() == found.bulk_chance.has_value());
    if (found.bulk_chance) CHECK(*sweep[i].bulk_chance == Approx(*found.bulk_chance));
  }
}

}  // namespace hairline::job_run
