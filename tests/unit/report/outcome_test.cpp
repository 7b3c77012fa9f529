// What came out of a print: from a report, by a person's answers, to a file and back; and how it is said.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>
#include <thread>

#include "fill.hpp"
#include "hairline/files.hpp"
#include "report/outcome_fields.hpp"
#include "sample.hpp"

using namespace hairline;
using namespace hairline::sample;
namespace fs = std::filesystem;

namespace {

const fs::path formats = fs::path(HAIRLINE_SOURCE_DIR) / "formats";

struct Folder {
  fs::path path = fs::temp_directory_path() / ("hairline-outcomes-" + std::to_string(::getpid()));
  Folder() { fs::remove_all(path); }
  ~Folder() { fs::remove_all(path); }
};

Report checked() {
  Report report;
  report.job.file = "gallery.zip";
  report.job.title = "gallery deck";
  report.exposure_s = 2.5;
  report.verdict = Verdict::hold;
  report.record.emplace();
  report.record->file = "harbour-grey.json";
  report.record->model.blur_mm = 0.04;
  report.details = {picket(1, 3.2), picket(2, 4.2), porthole(3), picket(4, 9)};
  report.details[3].lost = false;
  return report;
}

const LocalTime evening = parse_local_time("2026-11-26T22:10").value();

std::vector<fs::path> json_files(const fs::path& folder) {
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(folder))
    if (entry.path().extension() == ".json") files.push_back(entry.path());
  return files;
}

std::string said(const OutcomeSummary& summary) {
  std::string text = show_terminal(say_outcomes(summary), {});
  for (char& c : text) c = c == '\n' ? ' ' : c;
  return text;
}

}  // namespace

TEST_CASE("an outcome holds what was said to be lost, and nothing looked at yet") {
  const Outcome outcome = outcome_of(checked(), "5b0f", evening);
  CHECK(outcome.job.title == "gallery deck");
  CHECK(outcome.record.blur_mm == 0.04);
  CHECK_FALSE(outcome.fine);
  REQUIRE(outcome.predictions.size() == 3);  // rounding is no loss
  CHECK(outcome.predictions[0].chance == 0.83);
  CHECK(outcome.predictions[0].name.find("thin part 0.10 mm thick, 8.2 mm long, layers 811 to 974") == 0);
  CHECK(outcome.predictions[2].name.find("narrow gap 0.15 mm wide") == 0);
  for (const Prediction& one : outcome.predictions) CHECK_FALSE(one.seen);
}

TEST_CASE("the answers of a person") {
  Outcome outcome = outcome_of(checked(), "", evening);
  answer(outcome, {});
  CHECK(outcome.fine);
  CHECK(outcome.predictions[1].seen == false);
  answer(outcome, {2, 77}, false);
  CHECK_FALSE(outcome.fine);
  CHECK(outcome.predictions[1].seen == true);
  CHECK_FALSE(outcome.predictions[0].seen);
  answer_came_off(outcome);
  CHECK((outcome.came_off && !outcome.fine && !outcome.predictions[1].seen));
  outcome.others = {{Fate::vanish, "the ladder"}};
  answer(outcome, {});
  CHECK_FALSE((outcome.fine || outcome.came_off));
}

TEST_CASE("an outcome is read as it was written, whatever its texts") {
  test::Random random(11);
  for (int round = 0; round < 300; ++round) {
    Outcome outcome;
    test::Fill fill{random, round % 2 == 1};
    each_field(fill, outcome);
    outcome.fine = outcome.fine && !outcome.came_off && outcome.others.empty();
    if (outcome.fine)
      for (Prediction& one : outcome.predictions) one.seen.reset();
    const std::string written = to_json(outcome);
    CHECK(valid_utf8(written) == written);
    const auto again = parse_outcome(written, "print.json");
    INFO((again ? "" : to_paragraph(again.error())));
    REQUIRE(again);
    CHECK(to_json(*again) == written);
  }
}

TEST_CASE("examples of outcomes are read, every broken one gives its stated error") {
  CHECK(parse_outcome(read_text(formats / "examples/print-outcome/gallery.json").value(), "").value().others.size() ==
        1);
  CHECK(parse_outcome(read_text(formats / "examples/print-outcome/came-off.json").value(), "").value().came_off);
  const auto files = json_files(formats / "broken/print-outcome");
  REQUIRE(files.size() >= 20);
  for (const auto& path : files) {
    INFO(path);
    fs::path beside = path;
    std::string expected = read_text(beside.replace_extension(".expected")).value();
    if (expected.starts_with("schema:")) expected.erase(0, 8);
    expected.erase(expected.find_last_not_of('\n') + 1);
    REQUIRE_FALSE(expected.empty());
    const auto read = parse_outcome(read_text(path).value(), "print.json");
    REQUIRE_FALSE(read);
    CHECK_THAT(to_paragraph(read.error()), Catch::Contains(expected));
  }
}

TEST_CASE("each print has a file of its own, also where two are added at once") {
  const Folder folder;
  CHECK(find_outcomes(folder.path).value().empty());
  Outcome outcome = outcome_of(checked(), "", evening);
  outcome.job.file = "../nights/h\xC3\xA4rbour \x1b[31m deck.zip";
  const auto add = [&] {
    for (int i = 0; i < 10; ++i) CHECK(add_outcome(outcome, folder.path));
  };
  std::thread other(add);
  add();
  other.join();
  CHECK(json_files(folder.path).size() == 20);
  CHECK(fs::exists(folder.path / "2026-11-26T2210-h-rbour-31m-deck.json"));
  CHECK(write_text(folder.path / "2026-11-25T0900-cut-off.json", "{\"format\""));
  const auto found = find_outcomes(folder.path).value();
  REQUIRE(found.size() == 21);
  CHECK(found[0].problem->kind == ErrorKind::broken);
  CHECK(found[20].outcome.job.file == outcome.job.file);
}

TEST_CASE("what came out is said in words a person nods at") {
  OutcomeSummary summary;
  CHECK(said(summary).find("Nothing is noted yet") == 0);
  summary.prints = 3;
  summary.fine = 2;
  summary.earlier = 1;
  summary.will = {8, 2, 7.1, 0.8};
  summary.dose = DoseShift{.log = std::log(1.09), .low = std::log(1.04), .high = std::log(1.14), .record_log_sd = 0.03};
  summary.coupon_s = 2.3;
  CHECK(said(summary).find("3 prints looked at, 2 fine. 1 print of an earlier fit counts no more.") == 0);
  CHECK(said(summary).find("7.1 +- 0.8") != std::string::npos);
  CHECK(said(summary).find("The lamp or the resin seems about 9 % stronger than in the record (90 % sure: from 4 % "
                           "stronger to 14 % stronger).") != std::string::npos);
  CHECK(said(summary).find("Nothing here asks for a new coupon.") != std::string::npos);
  summary.new_coupon = NewCoupon::dose;
  CHECK(said(summary).find("more than the record's own doubt. Print a coupon at 2.30 s and read it.") !=
        std::string::npos);
  summary.new_coupon = NewCoupon::unforeseen;
  summary.unforeseen_prints = 3;
  CHECK(said(summary).find("3 of 3 prints lost something that was not said.") != std::string::npos);
  summary.new_coupon = NewCoupon::came_off;
  summary.came_off = 2;
  CHECK(said(summary).find("2 prints came off the plate.") != std::string::npos);
}
