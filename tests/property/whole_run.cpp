#include "whole_run.hpp"

#include <catch2/catch.hpp>
#include <filesystem>
#include <random>

#include "hairline/archive.hpp"
#include "hairline/record.hpp"

namespace hairline::whole_run {
namespace {

struct File {
  std::filesystem::path path =
      std::filesystem::temp_directory_path() / ("hairline-run-" + std::to_string(std::random_device{}()) + ".zip");
  File() = default;
  File(const File&) = delete;
  File& operator=(const File&) = delete;
  ~File() {
    std::error_code ignored;
    std::filesystem::remove(path, ignored);
  }
};

template <class T>
void require(const Result<T>& result) {
  INFO((result ? std::string() : to_paragraph(result.error())));
  REQUIRE(result.has_value());
}

}  // namespace

Report analyse_case(const stacks::Case& drawn, const Options& options) {
  const File file;
  {
    auto writer = ArchiveWriter::create(file.path, drawn.settings);
    require(writer);
    for (const Layer& layer : drawn.layers) require(writer->add(layer));
    require(writer->finish());
  }
  const Result<Archive> job = Archive::open(file.path);
  require(job);
  ResinRecord record;
  record.layer_height_mm = drawn.model.layer_height_mm;
  record.fit = drawn.model;
  AnalyseSettings settings;
  settings.exposure_s = options.exposure_s;
  settings.threads = options.threads;
  Progress progress;
  const Result<Report> report = analyse(*job, &record, settings, progress);
  require(report);
  Report out = *report;
  out.job.file.clear();  // the only thing that differs between runs of one case
  return out;
}

}  // namespace hairline::whole_run
