// A queue checked: every job gets its verdict or its error, equal ones are checked once, and what is remembered changes
// nothing but the time. How many checks were made is told by the layers that the progress counts.
#include <algorithm>
#include <catch2/catch.hpp>
#include <chrono>
#include <map>
#include <set>
#include <thread>

#include "hairline/flips.hpp"
#include "hairline/night.hpp"
#include "hairline/page.hpp"
#include "night_support.hpp"
#include "support/random.hpp"

using namespace hairline;
using namespace hairline::test;
namespace fs = std::filesystem;

namespace {

struct Told {
  std::string json, page;
};

struct Checked {
  std::vector<QueueEntry> entries;
  std::map<std::pair<std::uint32_t, std::uint32_t>, Told> told;  // by job and row
  std::uint32_t layers = 0;                                      // that were checked
  bool operator==(const Checked& other) const { return text() == other.text(); }
  // All of it but what is counted.
  std::string text() const {
    std::string all;
    for (const QueueEntry& entry : entries) {
      all += std::to_string(entry.place) + entry.job.file;
      for (const QueueRow& row : entry.rows) {
        all += row.error ? to_paragraph(*row.error) : to_string(row.verdict) + row.first_reason + row.title;
        for (const double value : {row.duration_s, row.resin_ml, row.exposure_s, row.suggested_s.value_or(0)})
          all += std::to_string(value) + ' ';
        all += row.record.file + std::to_string(row.record.age_days.value_or(-1));
        for (const std::string& doubt : row.record.doubts) all += doubt;
        if (row.suggested_verdict) all += "then " + to_string(*row.suggested_verdict);
        for (const std::uint32_t printer : row.printers) all += std::to_string(printer) + ',';
      }
      all += '\n';
    }
    for (const auto& [place, row] : told) all += std::to_string(place.first) + row.json + row.page;
    return all;
  }
};

Checked check(const NightRequest& request) {
  Checked checked;
  Progress progress;
  auto entries = check_queue(request, progress, [&](const CheckedRow& row) -> Result<void> {
    checked.told[{row.job, row.row}] = {to_json(row.report), row.page};
    return {};
  });
  REQUIRE(entries);
  CHECK(progress.done() == progress.total());
  checked.entries = std::move(*entries);
  checked.layers = progress.total();
  return checked;
}

struct Harbour : Workshop {
  Harbour() {
    auto record = small_record();
    REQUIRE(save_record(record, *this / "grey.json"));
  }
  NightRequest night(const std::vector<std::string>& files) const {
    NightRequest request;
    request.queue.printers.resize(1);
    for (const std::string& file : files) {
      QueueJob& job = request.queue.jobs.emplace_back();
      job.file = *this / file;
    }
    request.record.record = *this / "grey.json";
    request.settings.tonight.today = "2026-11-26";
    return request;
  }
};

// A byte in the middle of the last layer's PNG is another: the ZIP's directory stays as it is.
void damage(const std::string& file) {
  std::string bytes = read_text(file).value();
  const std::size_t at = bytes.find("IDAT", bytes.size() / 4);
  REQUIRE(at != std::string::npos);
  bytes[at + 6] ^= 1;
  REQUIRE(write_text(file, bytes));
}

}  // namespace

TEST_CASE("each job of a queue gets its verdict or its error, a duplicate is checked once") {
  const Harbour harbour;
  write_job(harbour / "sound.zip");
  write_job(harbour / "short.zip", {.normal_s = 1.2});
  write_job(harbour / "black.zip", {.width_px = 0});
  write_job(harbour / "resin.zip", {.resin = "rope brown"});
  fs::copy_file(harbour / "sound.zip", harbour / "copy.zip");
  fs::copy_file(harbour / "sound.zip", harbour / "damaged.zip");
  damage(harbour / "damaged.zip");
  REQUIRE(write_text(harbour / "letter.zip", "no ZIP"));
  const Checked checked = check(harbour.night(
      {"sound.zip", "short.zip", "black.zip", "copy.zip", "damaged.zip", "letter.zip", "none.zip", "resin.zip"}));
  REQUIRE(checked.entries.size() == 8);
  std::vector<std::string> kinds;
  for (const QueueEntry& entry : checked.entries) {
    REQUIRE(entry.rows.size() == 1);
    const QueueRow& row = entry.rows[0];
    kinds.push_back(row.error ? to_string(row.error->kind) : to_string(row.verdict));
    if (row.error) CHECK(row.error->file == entry.job.file);
    CHECK(row.printers == std::vector<std::uint32_t>{0});
  }
  CHECK(kinds ==
        std::vector<std::string>{"clear", "hold", "invalid", "clear", "broken", "broken", "not_found", "caution"});
  CHECK(checked.told.size() == 4);
  // sound (and its copy), short and that at another time, black, damaged, other resin
  CHECK(checked.layers == 6 * layer_count);
  const QueueRow& held = checked.entries[1].rows[0];
  REQUIRE(held.suggested_s);
  CHECK(held.exposure_s == 1.2);
  NightRequest then = harbour.night({"short.zip"});
  then.queue.jobs[0].exposure_s = held.suggested_s;
  CHECK(held.suggested_verdict == check(then).entries[0].rows[0].verdict);
  CHECK(checked.entries[0].rows[0].record.pitch_mm == 0.05);
  CHECK(checked.told.at({3, 0}).json.find("copy.zip") != std::string::npos);
}

TEST_CASE("a row of a queue is that of the job checked alone") {
  const Harbour harbour;
  write_job(harbour / "a.zip", {.title = "figurehead"});
  NightRequest night = harbour.night({"a.zip"});
  night.settings.tonight.today =
      GENERATE("2026-11-26", "2026-10-26", "2027-02-01", "");  // fresh, dated after today, old, no day
  const Checked checked = check(night);
  const auto records = read_records(night.record);
  REQUIRE(records);
  Progress progress;
  const auto alone = check_job({.job = harbour / "a.zip", .records = &*records, .settings = night.settings}, progress);
  REQUIRE(alone);
  CHECK(checked.told.at({0, 0}).json == to_json(*alone));
  Checked row = checked;
  row.entries[0].rows[0] = queue_row(parse_report(to_json(*alone), "").value());
  row.entries[0].rows[0].printers = {0};
  CHECK(row == checked);
  CHECK(checked.entries[0].rows[0].title == "figurehead");
}

TEST_CASE("with and without memory, on one thread and many: the same") {
  const Harbour harbour;
  std::vector<std::string> files;
  for (const double normal_s : {1.2, 2.2, 2.5, 2.8})
    for (const std::uint32_t width_px : {1u, 3u, 30u, 0u}) {
      files.push_back("job" + std::to_string(files.size()) + ".zip");
      write_job(harbour / files.back(), {.normal_s = normal_s, .width_px = width_px});
    }
  files.push_back("none.zip");
  NightRequest night = harbour.night(files);
  night.pages = true;
  night.settings.threads = 1;
  const Checked first = check(night);
  CHECK(first.layers > 0);
  night.settings.threads = 5;
  CHECK(check(night) == first);
  ReportCache cache = ReportCache::open(harbour.path / "cache");
  night.cache = &cache;
  CHECK(check(night) == first);
  const Checked again = check(night);
  CHECK(again == first);
  CHECK(again.layers == 0);
  night.pages = false;
  Checked rows = first;  // without a sink
  Progress progress;
  rows.entries = check_queue(night, progress, {}).value();
  CHECK(rows == first);
  CHECK(progress.total() == 0);
  night.settings.tonight.today = "2026-11-27";
  const Checked tomorrow = check(night);
  CHECK(tomorrow.layers == 0);
  CHECK(tomorrow.entries[2].rows[0].record.age_days == 26);
  CHECK_FALSE(cache.warning());
}

TEST_CASE("what later looks need is kept beside the memory, and checked again where it is gone") {
  const Harbour harbour;
  write_job(harbour / "a.zip", {.width_px = 2});
  write_job(harbour / "b.zip");
  write_job(harbour / "black.zip", {.width_px = 0});
  ReportCache cache = ReportCache::open(harbour.path / "cache");
  NightRequest night = harbour.night({"a.zip", "b.zip", "black.zip"});
  night.cache = &cache;
  night.pages = true;
  std::vector<fs::path> looks(3);
  const auto check_again = [&] {
    Progress progress;
    const auto see = [&](const CheckedRow& row) -> Result<void> {
      looks[row.job] = row.looks;
      return {};
    };
    REQUIRE(check_queue(night, progress, see));
    return progress.total();
  };
  check_again();
  CHECK(looks == std::vector<fs::path>(3));
  night.looks_folder = harbour.path / "made" / "here";
  const std::uint32_t layers = check_again();
  CHECK(layers >= 2 * layer_count);  // pages are remembered, looks were not wanted then
  for (const std::uint32_t job : {0u, 1u}) {
    CHECK(looks[job].parent_path() == night.looks_folder);
    CHECK(read_text(looks[job].string() + ".png").value().starts_with("\x89PNG"));
    const auto flips = Flips::open(looks[job].string() + ".flips");
    REQUIRE(flips);
    CHECK(flips->head().size == Size{40, 30});
    CHECK(flips->head().layer_count == layer_count);
  }
  CHECK(looks[2].empty());  // it has an error, which is remembered
  CHECK(check_again() == 0);
  for (const char* end : {".flips", ".png"}) {
    fs::remove(looks[1].string() + end);
    CHECK(check_again() == layer_count);
    CHECK(fs::exists(looks[1].string() + end));
  }
  night.measured_only = true;
  check_again();
  CHECK(Flips::open(looks[0].string() + ".flips").value().head().times_s.empty());
  night.pages = false;
  CHECK(check_again() == 0);
  CHECK(looks[0].empty());
}

TEST_CASE("what is checked again is what has changed") {
  const Harbour harbour;
  const std::vector<std::string> files = {"a.zip", "b.zip", "c.zip"};
  for (std::uint32_t i = 0; i < 3; ++i) write_job(harbour / files[i], {.width_px = 20 + i});
  ReportCache cache = ReportCache::open(harbour.path / "cache");
  NightRequest night = harbour.night(files);
  night.cache = &cache;
  const Checked first = check(night);
  CHECK(first.layers == 3 * layer_count);
  fs::create_directory(harbour.path / "elsewhere");
  SECTION("a name and a place: nothing") {
    fs::rename(harbour / "b.zip", harbour / "elsewhere/renamed.zip");
    fs::rename(harbour / "grey.json", harbour / "elsewhere/grey.json");
    night.queue.jobs[1].file = harbour / "elsewhere/renamed.zip";
    night.record.record = harbour / "elsewhere/grey.json";
    const Checked moved = check(night);
    CHECK(moved.layers == 0);
    CHECK(moved.told.at({1, 0}).json.find("elsewhere/renamed.zip") != std::string::npos);
    CHECK(moved.entries[1].rows[0].record.file == harbour / "elsewhere/grey.json");
  }
  SECTION("one job: that one") {
    write_job(harbour / "b.zip", {.width_px = 25});
    CHECK(check(night).layers == layer_count);
  }
  SECTION("one job's title: that one") {
    write_job(harbour / "b.zip", {.width_px = 21, .title = "anew"});
    CHECK(check(night).layers == layer_count);
  }
  SECTION("a byte of one job: that one, and it is told as broken") {
    damage(harbour / "b.zip");
    const Checked damaged = check(night);
    CHECK(damaged.layers == layer_count);
    CHECK(damaged.entries[1].rows[0].error);
    CHECK(check(night).layers == 0);
  }
  SECTION("a byte of one job, with its date put back: that one") {
    const auto dated = fs::last_write_time(harbour / "b.zip");
    std::this_thread::sleep_for(std::chrono::milliseconds(40));
    CHECK(check(night).layers == 0);  // now the state of the files is known
    damage(harbour / "b.zip");
    fs::last_write_time(harbour / "b.zip", dated);
    CHECK(check(night).entries[1].rows[0].error);
  }
  SECTION("the record's bond time: all") {
    REQUIRE(save_record(small_record(2.0), harbour / "grey.json"));
    const Checked changed = check(night);
    CHECK(changed.layers >= 3 * layer_count);
    CHECK(changed.told.at({0, 0}).json != first.told.at({0, 0}).json);
  }
  SECTION("an option: all") {
    night.settings.risk.visible_mm = 0.2;
    CHECK(check(night).layers == 3 * layer_count);
  }
  SECTION("a record that becomes old: all, once") {
    night.settings.tonight.today = "2027-02-01";
    const Checked old = check(night);
    CHECK(old.layers == 3 * layer_count);
    CHECK(old.entries[0].rows[0].record.doubts.at(0).find("92 days old") != std::string::npos);
    night.settings.tonight.today = "2027-02-02";
    const Checked older = check(night);
    CHECK(older.layers == 0);
    CHECK(older.entries[0].rows[0].record.doubts.at(0).find("93 days old") != std::string::npos);
    CHECK(older.entries[0].rows[0].first_reason.find("93 days old") != std::string::npos);
    CHECK(older.told.at({0, 0}).json.find("31 days") == std::string::npos);
  }
}

TEST_CASE("a job goes to the records of the printers that fit it") {
  const Harbour harbour;
  write_job(harbour / "a.zip");
  auto wide = small_record(1.5);
  wide.printer.pitch_mm = 0.1;
  REQUIRE(save_record(wide, harbour / "wide.json"));
  REQUIRE(save_record(small_record(1.7), harbour / "other.json"));
  NightRequest night = harbour.night({"a.zip"});
  night.record = {};
  const auto printer = [&](const char* label, const char* record) {
    QueuePrinter added;
    added.label = label;
    added.record = record[0] == '\0' ? "" : harbour / record;
    night.queue.printers.push_back(added);
  };
  night.queue.printers.clear();
  printer("quay", "grey.json"), printer("loft", "wide.json"), printer("pier", "other.json"),
      printer("bow", "grey.json");
  using Printers = std::vector<std::uint32_t>;
  const auto rows = [&] { return check(night).entries[0].rows; };
  auto made = rows();
  REQUIRE(made.size() == 2);
  CHECK(made[0].printers == Printers{0, 3});
  CHECK(made[1].printers == Printers{2});
  CHECK(made[1].record.file == harbour / "other.json");
  night.queue.jobs[0].printer = "loft";  // asked for: other pixels, as the plan will say
  made = rows();
  REQUIRE(made.size() == 1);
  CHECK(made[0].printers == Printers{1});
  CHECK(made[0].record.pitch_mm == 0.1);
  night.queue.jobs[0].printer.clear();
  for (QueuePrinter& one : night.queue.printers) one.plate_mm = {1, 1.5};  // the masks are 2 by 1.5 mm
  CHECK(rows().size() == 2);
  for (QueuePrinter& one : night.queue.printers) one.plate_mm = {0.9, 1.5};
  made = rows();
  REQUIRE(made.size() == 1);
  CHECK(made[0].printers == Printers{0, 3});
  night.queue.printers[0].plate_mm.reset();
  night.queue.printers[3].record = harbour / "none.json";  // a record that cannot be read stops no other printer
  made = rows();
  REQUIRE(made.size() == 1);
  CHECK(made[0].printers == Printers{0});
  CHECK_FALSE(made[0].error);
  night.queue.jobs[0].printer = "bow";
  made = rows();
  REQUIRE(made.size() == 1);
  REQUIRE(made[0].error);
  CHECK(made[0].error->kind == ErrorKind::not_found);
  night.queue.jobs[0].printer = "mast";
  CHECK(rows().at(0).error->kind == ErrorKind::usage);
}

TEST_CASE("a folder of records gives each job its own; without a record jobs are measured") {
  const Harbour harbour;
  write_job(harbour / "a.zip");
  write_job(harbour / "b.zip", {.resin = "rope brown"});
  auto brown = small_record(1.8);
  brown.resin.label = "rope brown";
  REQUIRE(save_record(brown, harbour / "brown.json"));
  NightRequest night = harbour.night({"a.zip", "b.zip"});
  night.record = {.record = {}, .records = harbour.path.string()};
  const Checked checked = check(night);
  CHECK(checked.entries[0].rows.at(0).record.resin == "harbour grey");
  CHECK(checked.entries[1].rows.at(0).record.resin == "rope brown");
  night.measured_only = true;
  const Checked measured = check(night);
  CHECK(measured.entries[0].rows.at(0).record.file.empty());
  CHECK(measured.told.at({0, 0}).json.find("\"record\": null") != std::string::npos);
}

TEST_CASE("shares divide a queue by what its jobs hold") {
  const Harbour harbour;
  std::vector<std::string> files = {"none.zip"};
  for (std::uint32_t i = 0; i < 24; ++i) {
    files.push_back("job" + std::to_string(i) + ".zip");
    write_job(harbour / files.back(), {.width_px = 2 + i});
  }
  const NightRequest whole = harbour.night(files);
  const Checked all = check(whole);
  std::vector<QueueEntry> together;
  std::set<std::uint32_t> used;
  for (std::uint32_t part = 1; part <= 3; ++part) {
    NightRequest night = whole;
    night.shard = Shard{part, 3};
    for (QueueEntry& entry : check(night).entries) {
      used.insert(part);
      together.push_back(std::move(entry));
    }
  }
  CHECK(used.size() == 3);
  std::sort(together.begin(), together.end(), [](const auto& a, const auto& b) { return a.place < b.place; });
  Checked joined = all;
  joined.entries = together;
  CHECK(joined == all);
  // Renamed, a job stays in its share; a second copy of it goes there too.
  fs::copy_file(harbour / "job5.zip", harbour / "renamed.zip");
  NightRequest two = harbour.night({"job5.zip", "renamed.zip"});
  std::size_t found = 0;
  for (std::uint32_t part = 1; part <= 5; ++part) {
    two.shard = Shard{part, 5};
    const std::size_t here = check(two).entries.size();
    CHECK((here == 0 || here == 2));
    found += here;
  }
  CHECK(found == 2);
}

TEST_CASE("a queue that is cancelled, or whose rows cannot be written, ends so") {
  const Harbour harbour;
  for (const char* file : {"a.zip", "b.zip", "c.zip"})
    write_job(harbour / file, {.width_px = static_cast<std::uint32_t>(20 + file[0] % 5)});
  const NightRequest night = harbour.night({"a.zip", "b.zip", "c.zip"});
  const RowSink nowhere;
  Progress stopped;
  stopped.cancel();
  const auto none = check_queue(night, stopped, nowhere);
  REQUIRE_FALSE(none);
  CHECK(none.error().kind == ErrorKind::cancelled);
  Progress progress;
  const auto in_the_middle = check_queue(night, progress, [&](const CheckedRow&) -> Result<void> {
    progress.cancel();
    return {};
  });
  REQUIRE_FALSE(in_the_middle);
  CHECK(in_the_middle.error().kind == ErrorKind::cancelled);
  Progress other;
  int told = 0;
  const auto full = check_queue(night, other, [&](const CheckedRow& row) -> Result<void> {
    ++told;
    return tl::unexpected(Error{ErrorKind::unwritable, row.report.job.file, "the disk is full"});
  });
  REQUIRE_FALSE(full);
  CHECK(full.error().kind == ErrorKind::unwritable);
  CHECK(told == 1);
  CHECK_FALSE(other.cancelled());
}

TEST_CASE("a queue within too little memory says of each job what it needs, as alone") {
  const Harbour harbour;
  write_job(harbour / "a.zip");
  write_job(harbour / "b.zip", {.width_px = 20});
  NightRequest night = harbour.night({"a.zip", "b.zip"});
  night.settings.memory_bytes = 64'000'100;  // the program alone takes 64 MB
  night.settings.threads = 4;
  ReportCache cache = ReportCache::open(harbour.path / "cache");
  night.cache = &cache;
  for (const QueueEntry& entry : check(night).entries) {
    REQUIRE(entry.rows.at(0).error);
    CHECK(entry.rows[0].error->kind == ErrorKind::limit);
    CHECK(entry.rows[0].error->expected == "at most 64 MB");
  }
  night.settings.memory_bytes = 0;  // nothing of that is remembered
  for (const QueueEntry& entry : check(night).entries) CHECK_FALSE(entry.rows.at(0).error);
}

TEST_CASE("a job that is refused for want of memory beside others is checked again alone") {
  const Harbour harbour;
  const Size size{1400, 1400};
  JobSettings job;
  job.size = size;
  job.pitch = {0.05, 0.05};
  job.layer_count = 2;
  job.normal_s = 2.5;
  for (const char* file : {"a.zip", "b.zip"}) {
    Random random(static_cast<std::uint64_t>(file[0]));
    std::vector<std::uint8_t> noise(std::size_t{size.width_px} * size.height_px);
    for (std::uint8_t& value : noise) value = random.chance(0.5) ? 255 : 0;
    Progress progress;
    const auto draw = [&](std::uint32_t) { return encode(noise, size); };
    REQUIRE(write_archive(harbour / file, job, PngFilter::none, draw, progress));
  }
  NightRequest night = harbour.night({"a.zip", "b.zip"});
  night.measured_only = true;
  night.settings.threads = 2;
  constexpr std::uint64_t whole_bytes = 440'000'000;  // two shares of 220 MB
  AnalyseSettings share = night.settings;
  share.memory_bytes = whole_bytes / 2;
  Progress progress;
  const auto refused = check_job({.job = harbour / "a.zip", .settings = share}, progress);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().kind == ErrorKind::limit);
  night.settings.memory_bytes = whole_bytes;
  for (const QueueEntry& entry : check(night).entries) CHECK_FALSE(entry.rows.at(0).error);
}
