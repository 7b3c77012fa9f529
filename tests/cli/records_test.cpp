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

nlohmann::json coupons(const Folder& folder, const std::string& file = "record.json") {
  return nlohmann::json::parse(file_text(folder / file)).at("readings").at("bracket");
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

namespace {

// What is typed for one coupon, in the order of the sheet: after the exposure walls, slots, pin, hole, flat slots,
// block, wide slot, thin bar, look.
using Typed = std::vector<std::string>;

void type_all(Process& asked, const Typed& answers) {
  for (const std::string& answer : answers) asked.type(answer + "\n");
}

const nlohmann::json& reading(const nlohmann::json& list, double exposure_s) {
  for (const auto& one : list)
    if (one.at("exposure_s") == exposure_s) return one;
  throw std::runtime_error("no such reading");
}

}  // namespace

TEST_CASE("five coupons typed with units, commas, a typing error and a Ctrl-C: nothing is lost") {
  const Folder folder;
  write_file(folder / "record.json", record_text());
  {
    Process asked({"record", "read", "record.json"}, folder.path(), Process::On::terminal);
    REQUIRE(asked.shows("Normal exposure of the coupon, s: "));
    type_all(asked,
             {"1900 ms", "0,11 0,12 0,10", "80 um", "0.15mm", "0,12", "4 layers", "5,04 mm", "1.96", "", "under"});
    REQUIRE(asked.shows("The next coupon"));
    CHECK(coupons(folder).size() == 1);  // kept at once
    type_all(asked, {"2,15 s", "0.09 s"});
    REQUIRE(asked.shows("\"0.09 s\" (in s, not mm) does not fit; expected a number over 0 and up to 5 mm"));
    type_all(asked, {"0.09", "90 \xC2\xB5m", "0.12", "0.12", "4", "5.05", "1.95", "0,21 mm", "sharp"});
    REQUIRE(asked.shows("many slots and holes closed"));  // the words are told apart, and asked for again
    type_all(asked, {"crisp", "2.4", "0.07 0.08", "0.09", "0.11", "0.13", "0,25", "5.06", "1.94", "", "slightly-over"});
    type_all(asked, {"2,7", "0.06", "0.10", "2 furlongs"});
    REQUIRE(asked.shows("what is \"furlongs\"?"));
    asked.type("\x03");
    const Ran ran = asked.end();
    INFO(ran.out);
    CHECK(ran.status == 130);
    CHECK(has(ran.out, "What you had answered is in record.json"));
  }
  CHECK(coupons(folder).size() == 4);
  Process again({"record", "read", "record.json"}, folder.path(), Process::On::terminal);
  REQUIRE(again.shows("Normal exposure of the coupon, s: "));
  type_all(again, {"2.7", "", "", "0.10", "0.14", "5 layers", "5.06", "1.94", "", "over"});
  type_all(again, {"3,1", "0.05", "0.10", "0.09", "0.14", "0.30", "5.07", "1.93", "", "over", ""});
  const Ran ran = again.end();
  INFO(ran.out);
  CHECK(ran.status == 0);
  const auto list = coupons(folder);
  CHECK(list.size() == 5);
  const auto& first = reading(list, 1.9);
  CHECK(first.at("thinnest_wall_mm") == 0.11);
  CHECK(first.at("reading_error_mm") == 0.01);  // standard deviation of 0.11, 0.12, 0.10
  CHECK(first.at("narrowest_slot_mm") == 0.08);
  CHECK(first.at("narrowest_flat_slot_mm") == 0.2);  // 4 layers of 0.05 mm
  CHECK(first.at("block_mm") == nlohmann::json{{"drawn", 5}, {"printed", 5.04}});
  CHECK(first.at("slot_mm") == nlohmann::json{{"drawn", 2}, {"printed", 1.96}});
  CHECK(reading(list, 2.15).at("look") == "crisp");
  CHECK(reading(list, 2.4).at("thinnest_wall_mm") == 0.075);
  CHECK(reading(list, 2.7).at("thinnest_wall_mm") == 0.06);  // of before the interrupt
  CHECK(reading(list, 2.7).at("look") == "over");
  CHECK(reading(list, 3.1).at("narrowest_flat_slot_mm") == 0.3);
  const auto whole = nlohmann::json::parse(file_text(folder / "record.json"));
  CHECK(whole.at("readings").at("cure_depth")[0].at("depth_mm") == 0.21);
}

TEST_CASE("record show --html writes a page beside what it says, or to standard output, and never over the record") {
  const Folder folder;
  write_file(folder / "grey.json", record_text());
  const Ran plain = test::hairline({"record", "show", "grey.json", "--today", "2026-11-07"}, folder.path());
  const Ran both =
      test::hairline({"record", "show", "grey.json", "--today", "2026-11-07", "--html", "grey.html"}, folder.path());
  CHECK(both.status == 0);
  CHECK(both.out == plain.out);
  const Ran page =
      test::hairline({"record", "show", "grey.json", "--today", "2026-11-07", "--html", "-"}, folder.path());
  CHECK(page.out == file_text(folder / "grey.html"));
  CHECK(page.out.find("class=\"limit-chart\"") != std::string::npos);
  const Ran over = test::hairline({"record", "show", "grey.json", "--html", "grey.json"}, folder.path());
  CHECK(over.status == 2);
  CHECK(file_text(folder / "grey.json") == record_text());
}

TEST_CASE("replacing takes what is given, and says what it keeps") {
  const Folder folder;
  write_file(folder / "record.json", record_text());
  REQUIRE(test::hairline({"record", "read", "record.json", "--exposure", "2.5", "--wall", "0.18", "--slot", "0.1",
                          "--look", "crisp"},
                         folder.path())
              .status == 0);
  const Ran ran = test::hairline({"record", "read", "record.json", "--exposure", "2,5", "--wall", "80um", "--replace"},
                                 folder.path());
  CHECK(ran.status == 0);
  CHECK(has(ran.out, "Kept of the coupon at 2.5 s: --slot 0.1, --look crisp."));
  REQUIRE(coupons(folder).size() == 1);
  CHECK(coupons(folder)[0].at("thinnest_wall_mm") == 0.08);
  CHECK(coupons(folder)[0].at("narrowest_slot_mm") == 0.1);
  CHECK(coupons(folder)[0].at("look") == "crisp");
  const auto old = nlohmann::json::parse(file_text(folder / "record.json")).at("readings").at("superseded");
  CHECK(old.size() == 1);
}

TEST_CASE("what was read at a mistyped time is taken back, and the record keeps it aside") {
  const Folder folder;
  write_file(folder / "record.json", record_text());
  const auto read = [&](std::vector<std::string> args) {
    args.insert(args.begin(), {"record", "read", "record.json"});
    return test::hairline(args, folder.path());
  };
  REQUIRE(read({"--exposure", "32", "--wall", "0.08", "--slot", "0.1"}).status == 0);
  REQUIRE(read({"--exposure", "2.5", "--wall", "0.08", "--slot", "0.1"}).status == 0);
  const Ran beside = read({"--take-back", "32", "--exposure", "3.2", "--wall", "0.05"});
  CHECK(beside.status == 2);
  CHECK(has(beside.err, "--take-back alone"));
  REQUIRE(coupons(folder).size() == 2);
  const Ran ran = read({"--take-back", "32 s"});
  CHECK(ran.status == 0);
  CHECK(has(ran.out, "1 reading taken back."));
  REQUIRE(coupons(folder).size() == 1);
  CHECK(coupons(folder)[0].at("exposure_s") == 2.5);
  const auto old = nlohmann::json::parse(file_text(folder / "record.json")).at("readings").at("superseded");
  REQUIRE(old.size() == 1);
  CHECK(old[0].at("reading").at("exposure_s") == 32);
  const Ran again = read({"--take-back", "32"});
  CHECK(again.status == 2);
  CHECK(has(again.err, "nothing was read at 32 s"));
}

TEST_CASE("an evening from bottle to time goes on where it stopped, also with answers from a pipe") {
  const Folder folder;
  const auto evening = [&](const std::string& answers) {
    write_file(folder / "answers", answers);
    return run({"/bin/sh", "-c", HAIRLINE_BINARY " record evening --today 2026-11-01 'the grey' < answers"},
               folder.path());
  };
  Ran ran = evening("Harbour Grey\nquay bench\n");  // the input ends at the pitch
  CHECK(ran.status == 0);
  CHECK(has(ran.out, "To go on, type: hairline record evening 'the grey'"));
  CHECK_FALSE(std::filesystem::exists(folder / "the grey/harbour-grey.json"));

  ran = evening("Harbour Grey\nquay bench\n2 s\n0.5\n50 um\n0,05\n2,15\n\nn\n");
  CHECK(ran.status == 0);
  CHECK(has(ran.out, "\"2 s\" (in s, not mm) does not fit"));
  CHECK(has(ran.out, "\"0.5\" does not fit; expected a number from 0.01 to 0.2 mm"));  // of which a coupon is drawn
  CHECK(has(ran.out, "[1.85 2 2.15 2.6 3.2]"));
  CHECK(std::filesystem::exists(folder / "the grey/coupon-2.15s.zip"));
  CHECK(std::filesystem::exists(folder / "the grey/coupon-sheet.html"));

  // Two slips, and back to both.
  ran = evening("\n0.9\n0.7\n<\n<\n0.11\n0.08\n0.16\n0.125\n0.20\n5.04\n1.96\n\nunder\n0.10\n0.08\n");  // ends in the
                                                                                                        // second coupon
  CHECK(ran.status == 0);
  CHECK(has(ran.out, "The coupon of 1.85 s"));
  CHECK(has(ran.out, "To go on"));

  ran = evening(
      "yes\n0.16\n0.125\n0.25\n5.05\n1.95\n\nslightly-under\n"  // the rest of the second
      "0.09\n0.09\n0.125\n0.125\n0.25\n5.05\n1.95\n\ncrisp\n"
      "0.07\n0.09\n0.125\n0.16\n0.25\n5.06\n1.94\n\nover\n"
      "0.05\n0.10\n0.10\n0.16\n0.30\n5.07\n1.93\n\nover\n");
  INFO(ran.out << ran.err);
  CHECK(ran.status == 0);
  CHECK_FALSE(has(ran.out, "The coupon of 1.85 s"));
  CHECK(has(ran.out, "Use 2.15 s for ordinary jobs"));  // the same readings as README's recipe
  const auto record = nlohmann::json::parse(file_text(folder / "the grey/harbour-grey.json"));
  CHECK(record.at("readings").at("bracket").size() == 5);
  CHECK(record.at("fit").at("use").at("exposure_s") == 2.15);

  ran = evening("");  // nothing is open any more
  CHECK(ran.status == 0);
  CHECK(has(ran.out, "Use 2.15 s for ordinary jobs"));
}

TEST_CASE("Ctrl-C at the first questions of an evening keeps the answers, and offers them again") {
  const Folder folder;
  const auto stopped_at = [&](const std::string& question, const Typed& answers) {
    Process asked({"record", "evening", "eve"}, folder.path(), Process::On::terminal);
    type_all(asked, answers);
    REQUIRE(asked.shows(question));
    asked.type("\x03");
    return asked.end();
  };
  Ran ran = stopped_at("Label on the bottle: ", {});
  CHECK(ran.status == 130);
  CHECK(std::filesystem::is_empty(folder / "eve"));
  ran = stopped_at("Label of the printer: ", {"Harbour Grey"});
  CHECK(ran.status == 130);
  CHECK(nlohmann::json::parse(file_text(folder / "eve/harbour-grey.json")).at("resin").at("label") == "Harbour Grey");
  ran = stopped_at("Layer height, mm (default 0.05) [0.05]: ", {"", "quay bench", "0,04"});
  INFO(ran.out);
  CHECK(ran.status == 130);
  CHECK(has(ran.out, "Label on the bottle [Harbour Grey]: "));
  CHECK(has(ran.out, "its layer height is taken as 0.05 mm"));
  const auto record = nlohmann::json::parse(file_text(folder / "eve/harbour-grey.json"));
  CHECK(record.at("resin").at("label") == "Harbour Grey");
  CHECK(record.at("printer").at("label") == "quay bench");
  CHECK(record.at("printer").at("pitch_mm") == 0.04);
  ran = stopped_at("Times to print, s", {"2.4"});  // the guess, and not the times
  CHECK(ran.status == 130);
  CHECK(
      has(ran.out, "to print these times, type: hairline coupon --pitch 0.04 --height 0.05 --exposures 2.05,2.2,2.4,"));
}

TEST_CASE("an evening of looks alone says what more would bring; Ctrl-C leaves what was typed") {
  const Folder folder;
  write_file(folder / "eve/record.json", record_text());
  REQUIRE(
      test::hairline({"coupon", "--pitch", "0,05", "--exposures", "2,3 2,4 2,5 2,6", "eve"}, folder.path()).status ==
      0);
  {
    Process asked({"record", "evening", "eve"}, folder.path(), Process::On::terminal);
    REQUIRE(asked.shows("to be read now [yes]: "));
    type_all(asked, {"", "", "", "", "", "", "", "", "", "under"});
    REQUIRE(asked.shows("The coupon of 2.4 s"));
    asked.type("\x03");
    const Ran ran = asked.end();
    CHECK(ran.status == 130);
    CHECK(has(ran.out, "What you had answered is kept"));
  }
  REQUIRE(coupons(folder, "eve/record.json").size() == 1);
  Process again({"record", "evening", "eve"}, folder.path(), Process::On::terminal);
  REQUIRE(again.shows("Are the coupons of 2.4, 2.5, 2.6 s printed"));
  type_all(again, {""});
  for (const char* look : {"slightly-under", "crisp", "slightly-over"})
    type_all(again, {"", "", "", "", "", "", "", "", look});
  const Ran ran = again.end();
  INFO(ran.out);
  CHECK(ran.status == 0);
  CHECK(has(ran.out, "Use 2.5 s for ordinary jobs"));
  CHECK(has(ran.out, "printed already: then the first and last good time"));
}
