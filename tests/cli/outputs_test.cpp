// Where outputs go: nothing that lies about is harmed, nothing hangs, and no run says what is not true.
#include <sys/resource.h>
#include <sys/stat.h>

#include <catch2/catch.hpp>

#include "jobs.hpp"
#include "support/process.hpp"

using namespace hairline;
using namespace hairline::test;
namespace fs = std::filesystem;

namespace {

struct Workshop {
  Folder folder;
  Workshop() {
    write_zip(folder / "job.zip");
    write_job(folder / "masks");
    write_file(folder / "record.json", record_text());
  }
  Ran measure(const std::string& json) const {
    return test::hairline({"measure", "job.zip", "--json", json}, folder.path());
  }
};

void expect_refused(const Ran& ran, const std::string& name, const std::string& why = "input") {
  INFO(ran.out << ran.err);
  CHECK(ran.status == 2);
  CHECK(ran.out.empty());
  CHECK(has(ran.err, name));
  CHECK(has(ran.err, why));
}

std::vector<std::string> asides(const Folder& folder) {
  std::vector<std::string> names;
  for (const std::string& name : folder.files())
    if (has(name, ".hairline-")) names.push_back(name);
  return names;
}

const std::vector<std::string> coupon = {"coupon", "--pitch", "0.05", "--exposures", "2.0", "c"};

// Until a coupon is being written; then it can be stopped or killed in the middle.
bool begun(const Folder& folder) {
  return comes([&] { return !asides(folder).empty(); });
}

bool whole(const fs::path& path) {
  const auto archive = Archive::open(path);
  for (std::uint32_t n = 1; archive && n <= archive->settings().layer_count; ++n)
    if (!archive->read_layer(n)) return false;
  return archive.has_value();
}

}  // namespace

TEST_CASE("files, links and pipes named like an output with .part are left alone") {
  const Workshop w;
  fs::copy(w.folder / "job.zip", w.folder / "a.json.part");
  write_file(w.folder / "target", "a person's");
  fs::create_symlink("target", w.folder / "b.json.part");
  fs::create_symlink("nowhere", w.folder / "c.json.part");
  REQUIRE(::mkfifo((w.folder / "d.json.part").c_str(), 0600) == 0);
  const std::string job = file_text(w.folder / "job.zip");
  for (const char* out : {"a.json", "b.json", "c.json", "d.json"}) CHECK(w.measure(out).status == 0);
  CHECK(test::hairline({"measure", "a.json.part", "--json", "a.json"}, w.folder.path()).status == 0);
  CHECK(file_text(w.folder / "a.json.part") == job);
  CHECK(file_text(w.folder / "target") == "a person's");
  CHECK_FALSE(fs::exists(w.folder / "nowhere"));
  CHECK(fs::is_fifo(w.folder / "d.json.part"));
  CHECK(asides(w.folder).empty());
}

TEST_CASE("an empty name of an output is bad usage, said before any work") {
  const Workshop w;
  const std::vector<std::vector<std::string>> commands = {
      {"check", "job.zip", "--record", "record.json", "--json", ""},
      {"check", "job.zip", "--record", "record.json", "--html", ""},
      {"measure", "job.zip", "--csv", ""},
      {"measure", "job.zip", "--json="},
      {"sweep", "job.zip", "--record", "record.json", "--json", ""},
      {"queue", "job.zip", "--record", "record.json", "--json", ""},
      {"describe", "masks", "--out", ""},
      {"pack", "job.zip", ""},
      {"coupon", "--pitch", "0.05", "--exposures", "2.0", ""},
      {"demo", ""},
      {"record", "show", "record.json", "--html", ""},
      {"record", "new", ""},
      {"record", "evening", ""},
  };
  const auto before = w.folder.files();
  for (const auto& command : commands) {
    const Ran ran = test::hairline(command, w.folder.path());
    const bool by_equals = command.back() == "--json=";  // the parser's own word for it
    expect_refused(ran, by_equals ? "--json" : "\"\" is no name", by_equals ? "FILE missing" : "expected a");
  }
  CHECK(w.folder.files() == before);
}

TEST_CASE("an output that is an input by link, hard link or another spelling is refused") {
  const Workshop w;
  fs::create_symlink("job.zip", w.folder / "link");
  fs::create_hard_link(w.folder / "job.zip", w.folder / "hard");
  fs::create_directory_symlink(".", w.folder / "here");
  fs::create_symlink("masks/layers/00001.png", w.folder / "mask");
  const std::string job = file_text(w.folder / "job.zip");
  for (const char* out : {"link", "hard", "./job.zip", "masks/../job.zip", "here/job.zip"})
    expect_refused(w.measure(out), out);
  for (const char* out : {"mask", "masks/new.json", "here/masks/manifest.json"})
    expect_refused(test::hairline({"measure", "masks", "--csv", out}, w.folder.path()), out);
  expect_refused(test::hairline({"pack", "job.zip", "hard"}, w.folder.path()), "hard");
  CHECK(file_text(w.folder / "job.zip") == job);
}

TEST_CASE("records, lists, descriptions and tables are inputs too") {
  const Workshop w;
  write_file(w.folder / "tonight.txt", "job.zip\n");
  write_file(w.folder / "own.json", R"({"format": "archive-description", "version": 1, "label": "x",
 "masks": {"files": "*.png"}, "settings": {}})");
  const auto call = [&](const std::vector<std::string>& words) { return test::hairline(words, w.folder.path()); };
  expect_refused(call({"check", "job.zip", "--record", "record.json", "--json", "./record.json"}), "record.json");
  expect_refused(call({"check", "job.zip", "--json", "record.json"}), "record.json");  // one of the folder's
  expect_refused(call({"measure", "masks", "--description", "own.json", "--json", "own.json"}), "own.json");
  expect_refused(call({"record", "read", "record.json", "--csv", "./record.json"}), "record.json");
  fs::create_directory(w.folder / "reports");
  fs::create_symlink("../tonight.txt", w.folder / "reports/job.json");
  expect_refused(call({"queue", "tonight.txt", "--record", "record.json", "--json", "reports"}), "reports/job.json");
  CHECK(file_text(w.folder / "record.json") == record_text());
  CHECK(call({"check", "job.zip", "--record", "record.json", "--json", "out.json"}).status < 2);
  CHECK(call({"check", "job.zip", "--record", "record.json", "--json", "out.json"}).status < 2);  // written again
}

TEST_CASE("two outputs are not one file, also by a link to no file yet") {
  const Workshop w;
  fs::create_symlink("out", w.folder / "link");
  expect_refused(test::hairline({"measure", "job.zip", "--json", "out", "--csv", "link"}, w.folder.path()), "link",
                 "two outputs");
  CHECK(test::hairline({"measure", "job.zip", "--json", "/dev/null", "--csv", "/dev/null"}, w.folder.path()).status ==
        0);
}

TEST_CASE("a page goes where it is asked for") {
  const Workshop w;
  const auto call = [&w](const std::vector<std::string>& words) { return test::hairline(words, w.folder.path()); };
  const Ran out = call({"check", "job.zip", "--record", "record.json", "--html", "-"});
  CHECK(out.out.substr(0, 15) == "<!DOCTYPE html>");
  CHECK(out.out.substr(out.out.size() - 8) == "</html>\n");
  const Ran file = call({"check", "job.zip", "--record", "record.json", "--html", "page.html"});
  CHECK(has(file.out, "job.zip"));  // the terminal report as ever
  CHECK(file_text(w.folder / "page.html") == out.out);
  CHECK(call({"sweep", "job.zip", "--record", "record.json", "--html", "sweep.html"}).status == 0);
  CHECK(has(file_text(w.folder / "sweep.html"), "id=\"chart-when\""));
  fs::create_directory(w.folder / "pages");
  CHECK(call({"measure", "job.zip", "masks", "--html", "pages"}).status == 0);
  CHECK(has(file_text(w.folder / "pages/job.html"), "id=\"report\""));
  CHECK(has(file_text(w.folder / "pages/masks.html"), "id=\"report\""));
  expect_refused(call({"measure", "job.zip", "--json", "out", "--html", "out"}), "out", "two outputs");
  expect_refused(call({"measure", "job.zip", "--html", "job.zip"}), "job.zip");
  expect_refused(call({"measure", "job.zip", "masks", "--html", "none"}), "none", "folder");
}

TEST_CASE("a dangling link is written through, links in a circle are refused") {
  const Workshop w;
  fs::create_symlink("made.json", w.folder / "link");
  fs::create_symlink("made.zip", w.folder / "packed");
  CHECK(w.measure("link").status == 0);
  CHECK(fs::is_symlink(w.folder / "link"));
  CHECK(has(file_text(w.folder / "made.json"), "preflight-report"));
  CHECK(test::hairline({"pack", "job.zip", "packed"}, w.folder.path()).status == 0);
  CHECK(fs::is_symlink(w.folder / "packed"));
  CHECK(whole(w.folder / "made.zip"));
  fs::create_symlink("b", w.folder / "a");
  fs::create_symlink("a", w.folder / "b");
  expect_refused(w.measure("a"), "a", "circle");
}

TEST_CASE("/dev/stdout is the stream itself; a pipe is written once somebody reads it") {
  const Workshop w;
  const Ran out = w.measure("/dev/stdout");
  CHECK(out.status == 0);
  CHECK(has(out.out, "preflight-report"));
  CHECK(has(out.out, "mooring post"));  // and the report for people behind it
  REQUIRE(::mkfifo((w.folder / "pipe").c_str(), 0600) == 0);
  Process writer({"measure", "job.zip", "--json", "pipe"}, w.folder.path());
  const std::string read = file_text(w.folder / "pipe");
  CHECK(writer.end().status == 0);
  CHECK(has(read, "preflight-report"));
  CHECK(fs::is_fifo(w.folder / "pipe"));
}

TEST_CASE("an interrupt ends the wait for a reader") {
  const Workshop w;
  REQUIRE(::mkfifo((w.folder / "pipe").c_str(), 0600) == 0);
  Process writer({"measure", "job.zip", "--json", "pipe"}, w.folder.path());
  std::this_thread::sleep_for(std::chrono::seconds(1));
  writer.kill(SIGINT);
  CHECK(writer.end().status == 130);
}

TEST_CASE("of two writers each leaves a whole file, and neither says what is not true") {
  const Folder folder;
  Process slow(coupon, folder.path());
  REQUIRE(begun(folder));
  slow.kill(SIGSTOP);
  CHECK(test::hairline(coupon, folder.path()).status == 0);
  CHECK(whole(folder / "c/coupon-2.00s.zip"));
  slow.kill(SIGCONT);
  CHECK(slow.end().status == 0);
  CHECK(whole(folder / "c/coupon-2.00s.zip"));
  CHECK(asides(folder).empty());
}

TEST_CASE("a run whose unfinished file was taken away says so") {
  const Folder folder;
  Process slow(coupon, folder.path());
  REQUIRE(begun(folder));
  slow.kill(SIGSTOP);
  for (const std::string& name : asides(folder)) fs::remove(folder / name);
  slow.kill(SIGCONT);
  const Ran ran = slow.end();
  CHECK(ran.status == 2);
  CHECK(has(ran.err, "coupon-2.00s.zip"));
  CHECK_FALSE(fs::exists(folder / "c/coupon-2.00s.zip"));
}

TEST_CASE("what a killed run left goes with the next one, when it is old and not held") {
  const Folder folder;
  Process killed(coupon, folder.path());
  REQUIRE(begun(folder));
  killed.kill(SIGKILL);
  CHECK(killed.end().status == 128 + SIGKILL);
  const std::vector<std::string> left = asides(folder);
  REQUIRE_FALSE(left.empty());
  CHECK(test::hairline(coupon, folder.path()).status == 0);
  CHECK(asides(folder) == left);  // too young to be sure
  for (const std::string& name : left)
    fs::last_write_time(folder / name, fs::file_time_type::clock::now() - std::chrono::hours(1));
  CHECK(test::hairline(coupon, folder.path()).status == 0);
  CHECK(asides(folder).empty());
}

TEST_CASE("a file grown beyond the limit of the shell is an error like any other") {
  const Workshop w;
  const auto limit = [] {
    const ::rlimit small{512, 512};
    ::setrlimit(RLIMIT_FSIZE, &small);
  };
  for (const std::vector<std::string>& call :
       {std::vector<std::string>{"measure", "job.zip", "--json", "out.json"}, {"pack", "job.zip", "out.zip"}}) {
    Process limited(call, w.folder.path(), Process::On::files, limit);
    const Ran ran = limited.end();
    INFO(ran.err);
    CHECK(ran.status == 2);
    CHECK(has(ran.err, "cannot be written"));
    CHECK(asides(w.folder).empty());
    CHECK_FALSE(fs::exists(w.folder / call.back()));
  }
}

TEST_CASE("a hang-up that was to be ignored is ignored") {
  const Folder folder;
  Process kept(coupon, folder.path(), Process::On::files, [] { std::signal(SIGHUP, SIG_IGN); });
  REQUIRE(begun(folder));
  kept.kill(SIGHUP);
  CHECK(kept.end().status == 0);
  CHECK(fs::exists(folder / "c/coupon.stl"));
  const Folder other;
  Process ended(coupon, other.path());
  REQUIRE(begun(other));
  ended.kill(SIGHUP);
  CHECK(ended.end().status == 130);
  CHECK(asides(other).empty());
}
