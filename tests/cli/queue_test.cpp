// The night's queue on the command line: what is remembered, what is checked once, shares, and runs that are killed.
// What the plan of a night says is in tests/unit/queue.
#include <sqlite3.h>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <random>

#include "jobs.hpp"
#include "support/process.hpp"

using namespace hairline;
using namespace hairline::test;
namespace fs = std::filesystem;

namespace {

using Words = std::vector<std::string>;
using Json = nlohmann::json;

Words operator+(Words a, const Words& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

// A post as wide as its number says, so that no two are the same; with `thin` beside a wall that vanishes.
Layer post(int number, bool thin) {
  std::vector<std::uint8_t> pixels(std::size_t{job_size.width_px} * job_size.height_px, 0);
  for (std::uint32_t row = 4; row < job_size.height_px - 4; ++row) {
    for (std::uint32_t col = 2; col < 12 + static_cast<std::uint32_t>(number); ++col)
      pixels[row * job_size.width_px + col] = 255;
    if (thin) pixels[row * job_size.width_px + 44] = 255;
  }
  return encode(pixels, job_size);
}

void write_post(const fs::path& path, int number, bool thin = false, double normal_s = 2.5) {
  auto settings = parse_manifest(manifest(), "manifest.json");
  REQUIRE(settings);
  settings->normal_s = normal_s;
  Progress progress;
  REQUIRE(write_archive(
      path, *settings, PngFilter::up, [&](std::uint32_t) { return post(number, thin); }, progress));
}

// Twenty jobs: 14 that are sound, two on hold, two broken, one all black, one twice (by another name), two foreign.
class Night {
 public:
  Night() {
    fs::create_directories(folder / "tonight");
    write_file(folder / "record.json", record_text());
    for (int n = 1; n <= 11; ++n) write_post(job(fmt::format("post {:02}.zip", n)), n);
    write_post(job("thin 1.zip"), 12, true);
    write_post(job("thin 2.zip"), 13, true);
    fs::copy_file(job("post 03.zip"), job("same as post 03.zip"));
    const std::string whole = file_text(job("post 01.zip"));
    write_file(job("cut off.zip"), whole.substr(0, whole.size() / 2));
    write_file(job("words.zip"), "no archive at all\n");
    write_black(job("black.zip"));
    for (int n = 1; n <= 2; ++n) {
      const fs::path masks = folder / fmt::format("tonight/foreign {}", n);
      for (std::uint32_t layer = 1; layer <= job_layers; ++layer)
        write_file(masks / fmt::format("{:03}.png", layer), png(post(20 + n, false)));
      write_file(masks / "print.ini", "time = 2.5\nheight = 0.05\npitch = 0.05\n");
    }
    write_post(job("last.zip"), 14);
    write_file(folder / "descriptions/bench.json", R"({"format": "archive-description", "version": 1, "label": "bench",
 "masks": {"files": "*.png"},
 "settings": {"exposure.normal_s": {"entry": "print.ini", "syntax": "ini", "key": "time"},
              "layers.height_mm": {"entry": "print.ini", "syntax": "ini", "key": "height"},
              "image.pitch_x_mm": {"entry": "print.ini", "syntax": "ini", "key": "pitch"},
              "image.pitch_y_mm": {"entry": "print.ini", "syntax": "ini", "key": "pitch"}}})");
  }
  fs::path job(const std::string& name) const { return folder / ("tonight/" + name); }
  Words words(const Words& more, const std::string& cache = "cache") const {
    return Words{"queue",      "tonight",        "--record",     "record.json", "--today",
                 "2026-11-07", "--descriptions", "descriptions", "--cache",     cache} +
           more;
  }
  Ran queue(const Words& more, const std::string& cache = "cache") const {
    return hairline::test::hairline(words(more, cache), folder.path());
  }
  // Run without a cache: the reports, and the night as JSON.
  Json plain(const std::string& into = "plain") const {
    const Ran ran = queue({"--no-cache", "--json", into});
    INFO(ran.err);
    REQUIRE(ran.status == 2);
    return night(into);
  }
  Json night(const std::string& in) const { return Json::parse(file_text(folder / (in + "/queue.json"))); }

  Folder folder;

 private:
  static void write_black(const fs::path& path) {
    const auto settings = parse_manifest(manifest(), "manifest.json");
    Progress progress;
    REQUIRE(write_archive(
        path, *settings, PngFilter::up, [](std::uint32_t) { return mask(false); }, progress));
  }
};

// Of a row, or the kind of its error.
std::string verdict_of(const Json& row) {
  return row["error"].is_null() ? row["verdict"].get<std::string>() : row["error"]["kind"].get<std::string>();
}

std::map<std::string, std::string> verdicts(const Json& night) {
  std::map<std::string, std::string> found;
  for (const Json& job : night["jobs"])
    found[fs::path(job["file"].get<std::string>()).filename().string()] = verdict_of(job["rows"][0]);
  return found;
}

// Every file of two folders.
void check_same_files(const fs::path& a, const fs::path& b) {
  std::size_t count = 0;
  for (const auto& entry : fs::directory_iterator(a)) {
    INFO(entry.path());
    CHECK((file_text(entry.path()) == file_text(b / entry.path().filename())));  // without printing both
    ++count;
  }
  CHECK(count == static_cast<std::size_t>(std::distance(fs::directory_iterator(b), fs::directory_iterator())));
}

sqlite3* open_database(const fs::path& path) {
  sqlite3* database = nullptr;
  REQUIRE(sqlite3_open(path.c_str(), &database) == SQLITE_OK);
  return database;
}

// How many results the cache holds.
int results_in(const fs::path& folder) {
  int count = 0;
  for (const auto& entry : fs::directory_iterator(folder))
    if (entry.path().extension() == ".sqlite") {
      sqlite3* database = open_database(entry.path());
      const auto take = [](void* into, int, char** values, char**) {
        *static_cast<int*>(into) += std::stoi(values[0]);
        return 0;
      };
      CHECK(sqlite3_exec(database, "SELECT count(*) FROM reports WHERE key LIKE 'row of %'", take, &count, nullptr) ==
            SQLITE_OK);
      sqlite3_close(database);
    }
  return count;
}

}  // namespace

TEST_CASE("queue: twenty jobs, of which some are broken, black, foreign, or the same") {
  const Night w;
  const Ran ran = w.queue({"--json", "reports", "--csv", "night.csv", "--html", "pages"});
  INFO(ran.out << ran.err);
  CHECK(ran.status == 2);
  const Json night = w.night("reports");
  REQUIRE(night["jobs"].size() == 20);
  auto found = verdicts(night);
  CHECK(found["words.zip"] == "broken");
  CHECK(found["cut off.zip"] == "broken");
  CHECK(found["black.zip"] == "invalid");  // nothing is printed at all
  CHECK(found["thin 1.zip"] == "hold");
  CHECK(found["thin 2.zip"] == "hold");
  for (const char* name : {"post 03.zip", "same as post 03.zip", "foreign 1", "foreign 2", "last.zip"})
    CHECK(found[name] != "hold");
  CHECK(has(ran.out, "BROKEN"));
  // Each says what a check by itself says.
  for (const Json& job : night["jobs"]) {
    const Json& row = job["rows"][0];
    if (!row["error"].is_null()) continue;
    const std::string file = job["file"];
    INFO(file);
    const Ran alone = check(w.folder, file, {"--json", "alone.json", "--descriptions", "descriptions"});
    CHECK(alone.status < 2);
    CHECK(file_text(w.folder / "alone.json") == file_text(w.folder / ("reports/" + row["report"].get<std::string>())));
    CHECK(fs::exists(w.folder / ("pages/" + row["page"].get<std::string>())));
  }
  CHECK(fs::exists(w.folder / "pages/index.html"));
  // A header, a row for each job.
  const std::string csv = file_text(w.folder / "night.csv");
  CHECK(std::count(csv.begin(), csv.end(), '\n') >= 21);
  // The two that are the same count as one in what is remembered; broken ones are looked at again.
  const int remembered = results_in(w.folder / "cache");
  const Ran again = w.queue({"--json", "again"});
  CHECK(results_in(w.folder / "cache") == remembered);
  check_same_files(w.folder / "again", w.folder / "again");
  CHECK(file_text(w.folder / "again/post 03.json") == file_text(w.folder / "reports/post 03.json"));
  CHECK(again.status == 2);
}

TEST_CASE("queue: exit status by the worst verdict") {
  const Night w;
  const auto status = [&](const Words& words) {
    return hairline::test::hairline(words + Words{"--record", "record.json", "--today", "2026-11-07", "--no-cache"},
                                    w.folder.path())
        .status;
  };
  CHECK(status({"queue", "tonight/thin 1.zip", "tonight/post 01.zip"}) == 1);
  CHECK(status({"queue", "tonight/thin 1.zip", "--fail-on", "never"}) == 0);
  CHECK(status({"queue", "tonight/thin 1.zip", "tonight/words.zip"}) == 2);
  CHECK(status({"queue", "tonight/post 01.zip", "--fail-on", "clear"}) == 1);
  CHECK(status({"queue"}) == 2);
}

TEST_CASE("queue: what did not change is not checked again, and what did is") {
  const Night w;
  w.plain();
  REQUIRE(w.queue({"--json", "first"}).status == 2);
  check_same_files(w.folder / "plain", w.folder / "first");
  const int first = results_in(w.folder / "cache");
  REQUIRE(w.queue({"--json", "second"}).status == 2);
  check_same_files(w.folder / "plain", w.folder / "second");
  CHECK(results_in(w.folder / "cache") == first);
  // Another name and another day: nothing new to check, but both are told.
  fs::rename(w.job("last.zip"), w.job("renamed.zip"));
  REQUIRE(hairline::test::hairline(Words{"queue", "tonight", "--record", "record.json", "--today", "2026-11-09",
                                         "--descriptions", "descriptions", "--cache", "cache", "--json", "third"},
                                   w.folder.path())
              .status == 2);
  CHECK(results_in(w.folder / "cache") == first);
  const Json renamed = Json::parse(file_text(w.folder / "third/renamed.json"));
  CHECK(renamed["job"]["file"] == "tonight/renamed.zip");
  CHECK(renamed["record"]["age_days"] == 8);
  // One job: one result more.
  write_post(w.job("renamed.zip"), 15);
  REQUIRE(w.queue({}).status == 2);
  CHECK(results_in(w.folder / "cache") == first + 1);
  // The record: every verdict is a new one. At a bond time of 2.6 s nothing of a 2.5 s job holds.
  write_file(w.folder / "record.json", record_text(R"(, "fit": {"bond_time_s": 2.6, "fuse_time_s": 0.55,
 "blur_mm": 0.04, "penetration_depth_mm": 0.16, "blur_shape": "gaussian", "valid_from_s": 2.7, "valid_to_s": 3.2})"));
  REQUIRE(w.queue({"--json", "weak"}).status == 2);
  for (const auto& [name, verdict] : verdicts(w.night("weak"))) {
    INFO(name);
    CHECK((verdict == "hold" || verdict == "broken" || verdict == "invalid"));
  }
}

TEST_CASE("queue: two runs at once give what one gives") {
  const Night w;
  w.plain();
  Process one(w.words({"--json", "one"}), w.folder.path());
  Process two(w.words({"--json", "two"}), w.folder.path());
  CHECK(one.end().status == 2);
  CHECK(two.end().status == 2);
  check_same_files(w.folder / "plain", w.folder / "one");
  check_same_files(w.folder / "plain", w.folder / "two");
}

// A program built anew from changed sources says the same version. Common practice, no source.
TEST_CASE("queue: what another build of the program found is not taken for what this one would find") {
  const Night w;
  Words words = w.words({});
  fs::copy_file(HAIRLINE_BINARY, w.folder / "other");
  std::ofstream(w.folder / "other", std::ios::app | std::ios::binary) << "built anew";
  REQUIRE(hairline::test::hairline(words, w.folder.path()).status == 2);
  const int first = results_in(w.folder / "cache");
  words.insert(words.begin(), (w.folder / "other").string());
  REQUIRE(run(words, w.folder.path()).status == 2);
  CHECK(results_in(w.folder / "cache") == 2 * first);
}

TEST_CASE("queue: a cache that cannot be used is told of, and the results are right") {
  const Night w;
  w.plain();
  REQUIRE(w.queue({}).status == 2);
  fs::path database;
  for (const auto& entry : fs::directory_iterator(w.folder / "cache"))
    if (entry.path().extension() == ".sqlite") database = entry.path();
  REQUIRE_FALSE(database.empty());
  const auto expect_right = [&](const char* what, const std::string& cache = "cache") {
    INFO(what);
    const Ran ran = w.queue({"--json", "right"}, cache);
    INFO(ran.err);
    CHECK(ran.status == 2);
    check_same_files(w.folder / "plain", w.folder / "right");
    fs::remove_all(w.folder / "right");
    return ran;
  };
  const std::string whole = file_text(database);
  write_file(database, "this is no database, but a note somebody left here\n" + std::string(5000, 'x'));
  CHECK(has(expect_right("no database").err, "cache"));
  write_file(database, whole.substr(0, whole.size() / 3) + std::string(whole.size() / 3, '\xA5'));
  expect_right("damaged");
  write_file(database, whole);
  sqlite3* open = open_database(database);
  REQUIRE(sqlite3_exec(open, "PRAGMA user_version = 99", nullptr, nullptr, nullptr) == SQLITE_OK);
  sqlite3_close(open);
  CHECK(has(expect_right("another version").err, "cache"));
  write_file(w.folder / "a file", "");
  CHECK(has(expect_right("no folder", "a file/cache").err, "cache"));
}

TEST_CASE("queue: shares, put together, are the whole") {
  const Night w;
  w.plain();
  for (int part = 1; part <= 4; ++part) {
    const Ran ran = w.queue({"--no-cache", "--shard", fmt::format("{}/4", part), "--json", "shares"});
    INFO(ran.err);
    CHECK(ran.status <= 2);
  }
  const Ran merged = hairline::test::hairline({"queue", "merge", "shares", "--json", "whole"}, w.folder.path());
  INFO(merged.err);
  CHECK(merged.status == 2);
  check_same_files(w.folder / "plain", w.folder / "whole");
  CHECK(merged.out == w.queue({"--no-cache"}).out);
  fs::remove(w.folder / "shares/queue.3-of-4.json");
  const Ran missing = hairline::test::hairline({"queue", "merge", "shares"}, w.folder.path());
  CHECK(missing.status == 2);
  CHECK(has(missing.err, "3"));
  CHECK(missing.out.empty());
  CHECK(hairline::test::hairline({"queue", "merge", "tonight"}, w.folder.path()).status == 2);
  for (const char* share : {"0/4", "5/4", "1/0", "1", "a/b", "1/2/3", "-1/4"}) {
    INFO(share);
    CHECK(w.queue({"--shard", share, "--json", "shares"}).status == 2);
  }
  CHECK(w.queue({"--shard", "1/4"}).status == 2);  // nowhere to put it
}

TEST_CASE("queue: what a job says by two records lies over no input and no other job's") {
  const Folder folder;
  write_file(folder / "out/a.2.json", record_text());
  write_file(folder / "record.json", record_text() + "\n");
  for (const char* job : {"a", "a.2"})
    for (std::uint32_t layer = 1; layer <= job_layers; ++layer)
      write_file(folder / job / fmt::format("{:03}.png", layer), png(post(5, false)));
  const auto run = [&](const std::string& second, const std::string& jobs) {
    write_file(folder / "tonight.json", fmt::format(R"({{"format": "print-queue", "version": 1, "jobs": [{}],
 "printers": [{{"label": "quay", "record": "record.json"}}, {{"label": "slip", "record": "{}"}}]}})",
                                                    jobs, second));
    return hairline::test::hairline({"queue", "tonight.json", "--no-cache", "--pitch", "0.05", "--height", "0.05",
                                     "--exposure", "2.5", "--json", "out"},
                                    folder.path());
  };
  const Ran over = run("out/a.2.json", R"({"file": "a"})");
  CHECK(over.status == 2);
  CHECK(has(over.err, "a.2.json"));
  CHECK(file_text(folder / "out/a.2.json") == record_text());

  write_file(folder / "other.json", file_text(folder / "out/a.2.json") + "\n\n");
  fs::remove(folder / "out/a.2.json");
  const Ran ran = run("other.json", R"({"file": "a"}, {"file": "a.2"})");
  INFO(ran.out << ran.err);
  CHECK(ran.status == 0);
  std::map<std::string, std::string> title_of;  // by the report's name
  const Json night = Json::parse(file_text(folder / "out/queue.json"));
  for (const Json& job : night["jobs"])
    for (const Json& row : job["rows"]) {
      const std::string name = row["report"].get<std::string>();
      CHECK(title_of.emplace(name, job["file"].get<std::string>()).second);
      const Json report = Json::parse(file_text(folder / "out" / name));
      CHECK(report["job"]["file"] == job["file"]);
      CHECK(report["record"]["file"] == row["record"]["file"]);
    }
  CHECK(title_of.size() == 4);
}

TEST_CASE("queue: two printers whose records say the same keep each its own file") {
  const Folder folder;
  for (const char* record : {"quay.json", "slip.json"}) write_file(folder / record, record_text());
  for (std::uint32_t layer = 1; layer <= job_layers; ++layer)
    write_file(folder / fmt::format("a/{:03}.png", layer), png(post(5, false)));
  write_file(folder / "tonight.json", R"({"format": "print-queue", "version": 1, "jobs": [{"file": "a"}],
 "printers": [{"label": "quay", "record": "quay.json"}, {"label": "slip", "record": "slip.json"}]})");
  const Ran ran = hairline::test::hairline({"queue", "tonight.json", "--no-cache", "--pitch", "0.05", "--height",
                                            "0.05", "--exposure", "2.5", "--json", "out"},
                                           folder.path());
  INFO(ran.out << ran.err);
  const Json rows = Json::parse(file_text(folder / "out/queue.json"))["jobs"][0]["rows"];
  REQUIRE(rows.size() == 2);
  CHECK(rows[0]["record"]["file"] == "quay.json");
  CHECK(rows[1]["record"]["file"] == "slip.json");
}

TEST_CASE("queue: killed at twenty moments, it goes on rightly") {
  const Night w;
  w.plain();
  std::mt19937 random(7);
  for (int round = 0; round < 20; ++round) {
    Process run(w.words({"--json", "reports", "--threads", "1"}), w.folder.path());
    std::this_thread::sleep_for(std::chrono::milliseconds(random() % 150));
    run.kill(SIGKILL);
    run.end();
    if (!fs::exists(w.folder / "reports")) continue;
    // Whatever is there under its name is whole.
    for (const auto& entry : fs::directory_iterator(w.folder / "reports"))
      if (entry.path().extension() == ".json")
        CHECK((file_text(entry.path()) == file_text(w.folder / "plain" / entry.path().filename())));
  }
  for (const auto& entry : fs::directory_iterator(w.folder / "reports"))
    if (entry.path().extension() != ".json") fs::remove(entry.path());  // parts of runs that were killed
  REQUIRE(w.queue({"--json", "reports"}).status == 2);
  check_same_files(w.folder / "plain", w.folder / "reports");
}

TEST_CASE("queue: a queue file's time for a job is the exposure of masks that state none") {
  const Folder folder;
  write_file(folder / "record.json", record_text());
  for (std::uint32_t layer = 1; layer <= job_layers; ++layer)
    write_file(folder / fmt::format("masks/{:03}.png", layer), png(post(5, false)));
  write_file(folder / "tonight.json", R"({"format": "print-queue", "version": 1,
 "jobs": [{"file": "masks", "exposure_s": 2.5}, {"file": "masks", "exposure_s": 2.8, "copies": 2}]})");
  const Ran ran = hairline::test::hairline({"queue", "tonight.json", "--record", "record.json", "--no-cache", "--pitch",
                                            "0.05", "--height", "0.05", "--json", "out"},
                                           folder.path());
  INFO(ran.out << ran.err);
  CHECK(ran.status == 0);
  const Json night = Json::parse(file_text(folder / "out/queue.json"));
  CHECK(night["jobs"][0]["rows"][0]["exposure_s"] == 2.5);
  CHECK(night["jobs"][1]["rows"][0]["exposure_s"] == 2.8);
  CHECK(night["plan"]["prints"].size() == 3);
}
