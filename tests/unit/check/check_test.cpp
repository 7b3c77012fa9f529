// The check as a service: jobs found, records chosen, one job checked with a progress that is passed in.
#include "hairline/check.hpp"

#include <catch2/catch.hpp>
#include <filesystem>

#include "hairline/files.hpp"

using namespace hairline;
namespace fs = std::filesystem;

namespace {

struct Workshop {
  fs::path path;
  Workshop() {
    std::string name = (fs::temp_directory_path() / "hairline-check-XXXXXX").string();
    REQUIRE(::mkdtemp(name.data()) != nullptr);
    path = name;
  }
  ~Workshop() {
    std::error_code ignored;
    fs::remove_all(path, ignored);
  }
  std::string operator/(const std::string& name) const { return (path / name).string(); }
};

constexpr std::uint32_t layer_count = 6;

void write_job(const fs::path& path, const std::string& resin = "harbour grey") {
  JobSettings job;
  job.size = {40, 30};
  job.pitch = {0.05, 0.05};
  job.layer_count = layer_count;
  job.normal_s = 2.5;
  job.resin_label = resin;
  std::vector<std::uint8_t> block(40 * 30, 0);
  for (std::uint32_t row = 5; row < 25; ++row)
    for (std::uint32_t col = 5; col < 35; ++col) block[row * 40 + col] = 255;
  Progress progress;
  const auto draw = [&](std::uint32_t) { return encode(block, job.size); };
  REQUIRE(write_archive(path, job, PngFilter::up, draw, progress));
}

void write_record(const fs::path& path, const std::string& resin, bool with_fit = true) {
  ResinRecord record;
  record.resin.label = resin;
  record.conditions.date = "2026-11-01";
  if (with_fit) {
    CureModel model;
    model.bond_time_s = 1.6;
    model.fuse_time_s = 0.55;
    model.blur_mm = 0.04;
    model.penetration_depth_mm = 0.16;
    model.valid_from_s = 1.8;
    model.valid_to_s = 3.2;
    record.fit = model;
  }
  REQUIRE(save_record(record, path));
}

}  // namespace

TEST_CASE("jobs are found in folders, lists and as they are named") {
  const Workshop workshop;
  for (const char* file : {"night/job 10.zip", "night/job 9.zip", "night/masks/manifest.json", "night/letter.txt"}) {
    REQUIRE(make_folder((workshop.path / file).parent_path()));
    REQUIRE(write_text(workshop / file, "x"));
  }
  std::filesystem::create_symlink("loop", workshop / "night/loop");  // leads to itself
  REQUIRE(write_text(workshop / "list.txt", "\xEF\xBB\xBF# tonight\r\nnight/job 9.zip\r\n\nmissing.zip\n"));
  using Jobs = std::vector<std::string>;
  CHECK(find_jobs({workshop / "night"}).value() ==
        Jobs{workshop / "night/job 9.zip", workshop / "night/job 10.zip", workshop / "night/masks"});
  CHECK(find_jobs({workshop / "list.txt", workshop / "night/masks"}).value() ==
        Jobs{workshop / "night/job 9.zip", workshop / "missing.zip", workshop / "night/masks"});
  // Archives of other programs: a folder of masks, and what ends in other letters.
  REQUIRE(make_folder(workshop / "foreign/bare"));
  REQUIRE(make_folder(workshop / "foreign/notes"));
  for (const char* name : {"foreign/bare/1.PNG", "foreign/stack.3mf", "foreign/OWN.ZIP", "foreign/notes/read me.txt"})
    REQUIRE(write_text(workshop / name, "x"));
  CHECK(find_jobs({workshop / "foreign"}).value() ==
        Jobs{workshop / "foreign/OWN.ZIP", workshop / "foreign/bare", workshop / "foreign/stack.3mf"});
  REQUIRE(make_folder(workshop / "void"));
  CHECK(find_jobs({workshop / "void"}).error().kind == ErrorKind::invalid);
  CHECK(find_jobs({workshop / "none.txt"}).error().kind == ErrorKind::not_found);
}

TEST_CASE("a named record serves every job, a folder gives each its own") {
  const Workshop workshop;
  write_record(workshop / "grey.json", "harbour grey");
  write_record(workshop / "red.json", "signal red");
  JobSettings red;
  red.resin_label = "Signal Red";
  const auto label_for_red = [&](const RecordChoice& choice) {
    const auto records = read_records(choice);
    REQUIRE(records);
    const auto record = record_for(*records, red);
    REQUIRE(record);
    return record->resin.label;
  };
  CHECK(label_for_red({.record = workshop / "grey.json", .records = {}}) == "harbour grey");
  CHECK(label_for_red({.record = "harbour grey", .records = workshop.path}) == "harbour grey");
  CHECK(label_for_red({.record = {}, .records = workshop.path}) == "signal red");
  CHECK(label_for_red({.record = workshop.path, .records = {}}) == "signal red");
  // The folder is read once for all jobs, however many there are: what is gone since then is still known.
  const auto records = read_records({.record = {}, .records = workshop.path});
  REQUIRE(records);
  std::filesystem::remove(workshop / "red.json");
  CHECK(record_for(*records, red)->resin.label == "signal red");
  // A file that is wrong is told at once, before any job is opened.
  write_record(workshop / "bare.json", "harbour grey", false);
  CHECK_FALSE(read_records({.record = workshop / "bare.json", .records = {}}));
  CHECK(read_records({.record = workshop / "none.json", .records = {}}).error().kind == ErrorKind::not_found);
}

TEST_CASE("where there is no record it is said once, and where some lie beside the jobs") {
  const Workshop workshop;
  REQUIRE(make_folder(workshop / "tonight"));
  REQUIRE(make_folder(workshop / "void"));
  write_record(workshop / "tonight/grey.json", "harbour grey");
  const RecordChoice choice{.record = {}, .records = workshop / "void"};
  const auto advice = [&](const std::vector<std::string>& paths) {
    const auto records = read_records(choice, paths);
    REQUIRE_FALSE(records);
    CHECK(records.error().kind == ErrorKind::not_found);
    CHECK(records.error().file == choice.records);
    return records.error().advice;
  };
  const std::string add = "Add --records " + workshop / "tonight" + ": there is one.";
  CHECK(advice({workshop / "void", workshop / "tonight"}) == add);
  CHECK(advice({workshop / "tonight/job.zip"}) == add);
  CHECK(advice({}).find("hairline record new") != std::string::npos);
  CHECK(advice({workshop / "void/job.zip"}) == advice({}));
}

TEST_CASE("a job is checked or measured; progress is counted, and cancels") {
  const Workshop workshop;
  write_job(workshop / "job.zip");
  write_record(workshop / "grey.json", "harbour grey");
  const auto records = read_records({.record = {}, .records = workshop.path});
  REQUIRE(records);
  CheckRequest request{.job = workshop / "job.zip", .records = &*records, .settings = {}};
  Progress progress;
  const auto checked = check_job(request, progress);
  REQUIRE(checked);
  REQUIRE(checked->record);
  CHECK(checked->record->file == workshop / "grey.json");
  CHECK(checked->job.layers == layer_count);
  CHECK(progress.done() == layer_count);
  CHECK(progress.total() == layer_count);
  request.records = nullptr;
  const auto measured = check_job(request, progress);
  REQUIRE(measured);
  CHECK_FALSE(measured->record);
  CHECK(measured->layers.size() == layer_count);
  progress.cancel();
  CHECK(check_job(request, progress).error().kind == ErrorKind::cancelled);
  Progress other;
  request.settings.exposure_s = -1;
  const auto refused = check_job(request, other);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().kind == ErrorKind::usage);
  CHECK(refused.error().file == request.job);
  request.job = workshop / "none.zip";
  CHECK(check_job(request, other).error().kind == ErrorKind::not_found);
}
