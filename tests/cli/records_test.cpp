// Records that several runs change, and answers that a person gives: nothing is lost.
#include <sys/file.h>
#include <sys/stat.h>

#include <catch2/catch.hpp>
#include <memory>
#include <nlohmann/json.hpp>

#include "jobs.hpp"
#include "support/process.hpp"

using namespace hairline;
using namespace hairline::test;
namespace fs = std::filesystem;

namespace {

bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

nlohmann::json coupons(const Folder& folder) {
  return nlohmann::json::parse(file_text(folder / "record.json")).at("readings").at("bracket");
}

const std::vector<std::string> read_one = {"record", "read", "record.json", "--exposure", "2.5", "--wall", "0.08"};

}  // namespace

TEST_CASE("six runs that read into one record at once lose nothing") {
  const Folder folder;
  write_file(folder / "record.json", record_text());
  std::vector<std::unique_ptr<Process>> runs;
  for (int i = 0; i < 6; ++i)
    runs.push_back(
        std::make_unique<Process>(std::vector<std::string>{"record", "read", "record.json", "--exposure",
                                                           fmt::format("{}", 2 + 0.2 * i), "--look", "crisp"},
                                  folder.path()));
  for (const auto& run : runs) {
    const Ran ran = run->end();
    INFO(ran.err);
    CHECK(ran.status == 0);
  }
  CHECK(coupons(folder).size() == 6);
  CHECK(folder.files() == std::vector<std::string>{"record.json", "record.json.lock"});
}

TEST_CASE("a record that another run holds is waited for, then its holder is named") {
  const Folder folder;
  write_file(folder / "record.json", record_text());
  write_file(folder / "record.json.lock", "4711\n");
  const int held = ::open((folder / "record.json.lock").c_str(), O_RDONLY | O_CLOEXEC);
  REQUIRE(::flock(held, LOCK_EX) == 0);
  const Ran ran = test::hairline(read_one, folder.path());
  CHECK(ran.status == 2);
  CHECK(has(ran.err, "process 4711"));
  CHECK(file_text(folder / "record.json") == record_text());
  Process waiting(read_one, folder.path());
  std::this_thread::sleep_for(std::chrono::milliseconds(300));
  ::close(held);
  CHECK(waiting.end().status == 0);
  CHECK(coupons(folder).size() == 1);
}

TEST_CASE("where the lock file cannot be one, nothing is done") {
  for (const int what : {0, 1, 2}) {
    const Folder folder;
    write_file(folder / "record.json", record_text());
    const fs::path lock = folder / "record.json.lock";
    if (what == 0) fs::create_symlink("elsewhere", lock);
    if (what == 1) REQUIRE(::mkfifo(lock.c_str(), 0600) == 0);
    if (what == 2) fs::create_directory(lock);
    const Ran ran = test::hairline(read_one, folder.path());
    INFO(ran.err);
    CHECK(ran.status == 2);
    CHECK(has(ran.err, "record.json.lock"));
    CHECK(has(ran.err, "Nothing was changed"));
    CHECK(file_text(folder / "record.json") == record_text());
    CHECK_FALSE(fs::exists(folder / "elsewhere"));
  }
}

TEST_CASE("Ctrl-C at a question ends at once, and what was answered is kept") {
  const Folder folder;
  write_file(folder / "record.json", record_text());
  Process asked({"record", "read", "record.json"}, folder.path(), Process::On::terminal);
  REQUIRE(asked.shows("Normal exposure of the coupon, s: "));
  asked.type("2,5\n");
  REQUIRE(asked.shows("Thinnest wall that stands, mm: "));
  asked.type("0.08\n");
  REQUIRE(asked.shows("Narrowest upright slot still open, mm: "));
  asked.type("0.1\x03");  // a line that was not ended is no answer
  const Ran ran = asked.end();
  INFO(ran.out);
  CHECK(ran.status == 130);
  CHECK(has(ran.out, "What you had answered is in record.json"));
  REQUIRE(coupons(folder).size() == 1);
  CHECK(coupons(folder)[0].at("exposure_s") == 2.5);
  CHECK(coupons(folder)[0].at("thinnest_wall_mm") == 0.08);
  CHECK_FALSE(coupons(folder)[0].contains("narrowest_slot_mm"));
}

TEST_CASE("Ctrl-C before the answers are a reading: they are told as a call") {
  const Folder folder;
  write_file(folder / "record.json", record_text());
  Process asked({"record", "read", "record.json"}, folder.path(), Process::On::terminal);
  REQUIRE(asked.shows("Normal exposure of the coupon, s: "));
  asked.type("2,5\n");
  REQUIRE(asked.shows("Thinnest wall that stands, mm: "));
  asked.type("\x03");
  const Ran ran = asked.end();
  INFO(ran.out);
  CHECK(ran.status == 130);
  CHECK(has(ran.out, "hairline record read record.json --exposure 2.5"));
  CHECK(file_text(folder / "record.json") == record_text());

  Process silent({"record", "read", "record.json"}, folder.path(), Process::On::terminal);
  REQUIRE(silent.shows("Normal exposure of the coupon, s: "));
  silent.kill(SIGTERM);
  CHECK(silent.end().status == 130);
}
