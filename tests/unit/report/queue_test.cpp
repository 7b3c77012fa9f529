// A night as a document: what is said of hand-made nights, sums, times on the clock.
#include "hairline/queue.hpp"

#include <catch2/catch.hpp>
#include <sstream>

#include "nights.hpp"
#include "report/lines.hpp"
#include "sample.hpp"

using namespace hairline;
using namespace hairline::sample;
using Catch::Matchers::Contains;

namespace {

std::string said(const CheckedQueue& night, std::uint32_t columns = 80) {
  return show_terminal(say_queue(night), {.columns = columns});
}

// The text without its line breaks and indents, to look for sentences.
std::string flat(const CheckedQueue& night) {
  std::istringstream words(said(night));
  std::string text;
  for (std::string word; words >> word;) text += (text.empty() ? "" : " ") + word;
  return text;
}

std::size_t count(const std::string& text, const std::string& part) {
  std::size_t found = 0;
  for (std::size_t at = 0; (at = text.find(part, at)) != std::string::npos; at += part.size()) ++found;
  return found;
}

}  // namespace

TEST_CASE("a row has what the report has, and another time only where one is to be set") {
  const QueueRow set = queue_row(sample::gallery());
  CHECK(set.title == "Lighthouse gallery");
  CHECK(set.verdict == Verdict::hold);
  CHECK(set.first_reason == sample::gallery().reasons[0]);
  CHECK(set.duration_s == 28080);
  CHECK(set.resin_ml == 61.2);
  CHECK(set.resin_g == 67.32);
  CHECK(set.resin_cost == 2.448);
  CHECK(set.exposure_s == 2.3);
  CHECK(set.suggested_s == 2.65);
  CHECK(set.size_mm == std::array{72.0, 128.0});
  CHECK(set.pitch.x_mm == 0.05);
  CHECK(set.layer_height_mm == 0.05);
  CHECK(set.layers == 1842);
  CHECK(set.record.file == "records/harbour-grey.json");
  CHECK(set.record.resin == "harbour grey");
  CHECK(set.record.age_days == 6);
  CHECK(set.record.doubts.size() == 1);
  Report by_exception = sample::gallery();  // with which another time alone does not help
  by_exception.suggestion->exception = OwnTime{31, 40, 1.7};
  CHECK_FALSE(queue_row(by_exception).suggested_s);
  CHECK_FALSE(queue_row(sample::cottage()).suggested_s);
  CHECK(queue_row(sample::cottage()).first_reason.empty());
  CHECK_FALSE(queue_row(sample::under_bond()).suggested_s);
  CHECK(queue_row(sample::measured_only()).record.file.empty());
}

TEST_CASE("a report read from its file gives the same row") {
  Report report = sample::gallery();
  report.job.duration_s = 28080.123456;
  report.job.resin_ml = 100.0 / 3;
  report.exposure_s = 2.3000004;
  const auto read = parse_report(to_json(report), "report.json");
  REQUIRE(read);
  CheckedQueue one = one_printer(1), other = one;
  one.entries[0].rows = {queue_row(report)};
  other.entries[0].rows = {queue_row(*read)};
  one.entries[0].rows[0].printers = other.entries[0].rows[0].printers = {0};
  CHECK(to_json(one) == to_json(other));
}

TEST_CASE("sums are over the prints of the plan, counts over the jobs") {
  const QueueTotals totals = add_up(three_printers());
  CHECK(totals.checked == 10);
  CHECK(totals.not_checked == 1);
  CHECK(totals.clear == 7);
  CHECK(totals.caution == 1);
  CHECK(totals.hold == 2);
  CHECK(totals.resin_ml == Approx(61 + 90 + 29 + 12 + 130));
  CHECK(totals.resin_g == Approx(1.1 * 322));
  CHECK(totals.resin_cost.value() == Approx(0.04 * 180));
  CHECK(totals.without_price == 2);
  CHECK_FALSE(add_up(one_printer(3)).resin_cost);
}

TEST_CASE("the row that is planned is the one that counts") {
  CheckedQueue night = one_printer(1);
  QueueRow second = night.entries[0].rows[0];
  night.entries[0].rows[0].verdict = Verdict::hold;
  night.entries[0].rows.push_back(second);
  night.plan.prints[0].row = 1;
  CHECK(add_up(night).clear == 1);
  CHECK(add_up(night).hold == 0);
}

TEST_CASE("three printers over midnight: what may start comes first, then when, then what else would") {
  const std::string text = flat(three_printers());
  CHECK_THAT(
      text,
      Catch::Matchers::StartsWith(
          "5 of 11 jobs may start, 1 of them with caution; 2 are on hold, 1 could not be checked, 1 lacks "
          "resin, 1 is too large for the plate, 1 was sliced for other pixels. Not ready by Fri 07:30: 1 "
          "of 5 prints (beacon.zip). The last ends at Fri 08:40, 10 h 40 min after the start. Latest start "
          "to be ready by Fri 07:30: 20:50. Somebody has to clear the plate between two prints: no time is "
          "counted for that (`changeover_min` of a queue file is). Another exposure time lets 1 job on hold start: "
          "pickets.zip at 2.65 s. 10 jobs checked: 7 clear, 1 caution, 2 hold; 1 not checked. The 5 prints "
          "take 322 ml (354 g) of resin, cost 7.20, without 2 prints whose price is not known."));
  CHECK_THAT(text,
             Contains("quay bench: 3 prints, 22:00 to Fri 08:40 resin 180 ml of 200 ml are used, 20.0 ml are left; "
                      "20.0 ml are missing for what is left out. The vat holds 100 ml: begin with a full one."));
  CHECK_THAT(text, Contains("lamp bench: 2 prints, 22:00 to Fri 01:00 resin 142 ml are used."));
  CHECK_THAT(text, Contains("slip bench: nothing to print"));
  CHECK_THAT(text, Contains("clear 22:00 Fri 01:00 61.0 ml 2.44 night/gallery.zip"));
  CHECK_THAT(text, Contains("caution Fri 01:20 Fri 06:20 90.0 ml 3.60 night/cutter.zip Fill up the vat first: 39.0 ml "
                            "are left in it. A gap 0.15 mm wide may close on layers 117 to 120 (5.8 to 6.0 mm up). Set "
                            "2.45 s a layer instead of 2.30 s."));
  CHECK_THAT(text, Contains("night/beacon.zip Fill up the vat first: 10.0 ml are left in it. Late: it ends 1 h 10 min "
                            "after Fri 07:30."));
  CHECK_THAT(text, Contains("night/mole.zip Change the resin first: chalk white."));
}

TEST_CASE("what is left out is listed with why, and with what would let it start") {
  const std::string text = flat(three_printers()), left = text.substr(text.find("Not to be started"));
  CHECK_THAT(left, Contains("hold 8 h 50.0 ml - night/pickets.zip A part 0.10 mm thin will be missing on layers 811 to "
                            "974 (40.5 to 48.7 mm up). Set 2.65 s a layer instead of 2.30 s, and it may start "
                            "(caution)."));
  CHECK_THAT(left,
             Contains("BROKEN - - - night/wreck.zip night/wreck.zip: it is not a ZIP; expected a ZIP or a folder. "
                      "Export it again."));
  CHECK_THAT(left, Contains("it needs 40.0 ml, and 20.0 ml are left at quay bench; 20.0 ml are missing."));
  CHECK_THAT(left, Contains("It is too large: a side of 150.4 mm, and the plate of quay bench has 143 mm."));
  CHECK_THAT(left, Contains("It is sliced for pixels of 0.05 mm; those of quay bench are 0.035 mm."));
  CHECK_THAT(left,
             Contains("night/shroud.zip A part 0.10 mm thin will be missing on layers 811 to 974 (40.5 to 48.7 mm "
                      "up). No other exposure time is known to save it; its report says what may."));
  CHECK_THAT(left, Contains("records/chalk.json (chalk white), 210 days old. The record is 210 days old."));
  CHECK_THAT(left, Contains("records/harbour-grey.json (harbour grey), 6 days old."));
}

TEST_CASE("a time that leaves a job on hold is no way out") {
  CheckedQueue night = three_printers();
  night.entries[5].rows[0].suggested_verdict = Verdict::hold;
  CHECK_THAT(flat(night),
             !Contains("Another exposure time") &&
                 Contains("Set 2.65 s a layer instead of 2.30 s: less is lost then, but it stays on hold."));
}

TEST_CASE("all in time; without a time to be ready by; with that time alone") {
  CheckedQueue night = three_printers();
  night.plan.prints[2].late = false;
  night.times.ready_by = local("2026-11-27T09:00");
  night.plan.allowed_s = 11 * hour_s;
  CHECK_THAT(flat(night), Contains("All prints are ready by Fri 09:00. The last ends at Fri 08:40,") &&
                              !Contains("Not ready") && !Contains("Late:"));
  night.times.ready_by.reset();
  night.plan.allowed_s.reset();
  night.plan.latest_start.reset();
  CHECK_THAT(flat(night),
             Contains("The last ends at Fri 08:40, 10 h 40 min after the start. Somebody") && !Contains("eady by"));
  night = one_printer(2);
  night.times.ready_by = local("2026-11-27T07:30");
  night.plan.latest_start = local("2026-11-27T05:30");
  CHECK_THAT(flat(night),
             Contains("The last ends 2 h after the start. Latest start to be ready by Fri 07:30: Fri 05:30."));
}

TEST_CASE("without a start there are durations only") {
  const std::string text = said(one_printer(2));
  CHECK_THAT(text, Contains("Both jobs may start.\n") && Contains("In this order: 2 prints, 2 h\n"));
  CHECK_THAT(text, Contains("verdict         time done after     resin  job\n"
                            "clear            1 h        1 h   10.0 ml  night/post-1.zip\n"
                            "clear            1 h        2 h   10.0 ml  night/post-2.zip\n"));
  CHECK_THAT(text, !Contains(":00") && !Contains("cost"));
}

TEST_CASE("one job, twenty jobs, none that may start, none at all") {
  CHECK_THAT(said(one_printer(1)), Catch::Matchers::StartsWith("The job may start.\n"));
  const std::string twenty = said(one_printer(20));
  CHECK_THAT(twenty, Catch::Matchers::StartsWith("All 20 jobs may start.\n"));
  CHECK(count(twenty, "night/post-") == 20);

  CheckedQueue night = one_printer(0);
  CHECK_THAT(said(night), Catch::Matchers::StartsWith("There are no jobs.\n"));
  night.entries = {broken(1, "a.zip"), broken(2, "b.zip")};
  night.plan.not_planned = {{.job = 0, .why = LeftOut::not_checked, .printer = {}},
                            {.job = 1, .why = LeftOut::not_checked, .printer = {}}};
  CHECK_THAT(flat(night), Catch::Matchers::StartsWith("None of the 2 jobs may start; 2 could not be checked."));
  CHECK(count(said(night), "BROKEN") == 2);
  night.entries.resize(1);
  night.plan.not_planned.resize(1);
  CHECK_THAT(said(night), Catch::Matchers::StartsWith("The job must not start: it could not be checked.\n"));
}

TEST_CASE("without a record it says so") {
  CheckedQueue night = one_printer(2);
  for (QueueEntry& entry : night.entries) entry.rows[0].record = {};
  CHECK_THAT(flat(night),
             Contains("Resin record none 2 jobs were only measured, without a record: what the resin loses "
                      "is not known."));
}

TEST_CASE("a doubt about a record names the job it is raised for, unless it is for all") {
  CheckedQueue night = one_printer(3);
  for (QueueEntry& entry : night.entries) entry.rows[0].record.doubts = {"The record is weak."};
  night.entries[1].rows[0].record.doubts.push_back("The job's layers are 0.2 mm high.");
  CHECK_THAT(flat(night), Contains(" The record is weak. post-2.zip: The job's layers are 0.2 mm high."));
}

TEST_CASE("a share lists verdicts and no plan") {
  const std::string text = flat(one_share());
  CHECK_THAT(text, Catch::Matchers::StartsWith("Share 2 of 4: 3 of 11 jobs, checked but not planned;"));
  CHECK_THAT(text, Contains("caution 5 h 90.0 ml 3.60 night/cutter.zip") && Contains("BROKEN") &&
                       Contains("2 jobs checked: 0 clear, 1 caution, 1 hold; 1 not checked.") &&
                       !Contains("quay bench: ") && !Contains("Latest start"));
}

TEST_CASE("copies are prints of their own, and those that are left out are counted") {
  CheckedQueue night = one_printer(2);
  night.entries.pop_back();
  night.entries[0].job.copies = 3;
  night.plan.prints[1].job = 0;
  night.plan.prints[1].copy = 2;
  night.plan.not_planned = {
      {.job = 0, .copies = 1, .why = LeftOut::no_resin, .printer = 0, .needed = 10, .available = 4}};
  CHECK_THAT(said(night), Catch::Matchers::StartsWith("The job may start; 1 copy is left out.\n"));
  CHECK_THAT(said(night), Contains("night/post-1.zip (1 of 3)\n") && Contains("night/post-1.zip (2 of 3)\n") &&
                              Contains("night/post-1.zip (1 of 3 copies)\n"));
  CHECK_THAT(flat(night), Contains("4.00 ml are left at the printer; 6.00 ml are missing."));
}

TEST_CASE("a print that takes more than the vat holds") {
  CheckedQueue night = one_printer(2);
  night.printers[0].vat_ml = 8;
  night.plan.prints[1].over_vat = true;
  CHECK_THAT(flat(night), Contains("It needs 10.0 ml, and the vat holds 8.00 ml: fill it up while it prints."));
}

// Source: the European Union's rule for summer time, directive 2000/84/EC: at 01:00 UTC on the last Sunday in March
// clocks go forward, on that in October back.
TEST_CASE("a night in which clocks change says so, and its times are those of the clock") {
  CheckedQueue night = one_printer(8);
  night.times = {local("2026-03-28T22:00"), {}, "Europe/Berlin"};
  CHECK_THAT(flat(night), Contains("Clocks are put forward by 1 h "
                                   "meanwhile;") &&
                              Contains("Sun 01:00 Sun 03:00"));
  night.times.start = local("2026-10-24T22:00");
  CHECK_THAT(flat(night), Contains("The last ends at Sun 05:00") && Contains("Clocks are put back by 1 h"));
  night.times.zone = "UTC";
  CHECK_THAT(flat(night), Contains("The last ends at Sun 06:00") && !Contains("Clocks"));
}

TEST_CASE("a week on, days have their date") {
  CheckedQueue night = one_printer(200);
  night.times.start = local("2026-11-26T22:00");
  const std::string text = flat(night);
  CHECK_THAT(text, Contains("Wed 22:00 Wed 23:00") && Contains("3 Dec 22:00 3 Dec 23:00"));
}

TEST_CASE("lines keep to the width, whatever names hold") {
  CheckedQueue night = three_printers();
  night.entries[0].job.file = std::string(200, 'c') + ".zip";
  night.entries[3].job.file = "bell\x1b[31m \xE2\x80\xAE red.zip";
  night.entries[5].job.file = "night/" + std::string(90, 'p') + ".zip";
  night.printers[0].label = std::string(70, 'q');
  for (const std::uint32_t columns : {60u, 80u, 110u}) {
    std::istringstream lines(said(night, columns));
    for (std::string line; std::getline(lines, line);) CHECK(width_of(line) <= columns);
  }
  CHECK_THAT(flat(night), Contains("bell\\x1B[31m \\xE2\\x80\\xAE red.zip"));
  CHECK_THAT(said(night), !Contains("\x1b"));
}

TEST_CASE("job by job: verdict, when and where, and the time that helps") {
  const CheckedQueue night = three_printers();
  const SaidNight said = say_by_job(night);
  REQUIRE(said.jobs.size() == night.entries.size());
  const auto shown = [&](std::size_t i) { return show_terminal(said.jobs[i].said, {}); };
  CHECK_THAT(shown(0), Contains("clear") && Contains("quay bench") && Contains("22:00 to Fri 01:00"));
  CHECK_THAT(shown(2),
             Contains("Fri 06:40 to Fri 08:40, late") && Contains("Late: it ends 1 h 10 min after Fri 07:30"));
  CHECK_THAT(shown(4), Contains("lamp bench") && Contains("Change the resin first: chalk white."));
  CHECK_THAT(shown(5), Contains("hold") && Contains("Set 2.65 s a layer instead of 2.30 s, and it may start"));
  CHECK_THAT(shown(6), Contains("BROKEN") && Contains("it is not a ZIP"));
  CHECK_THAT(shown(7), Contains("clear, left out") && Contains("The resin does not reach"));
  CHECK(said.jobs[0].set_text.empty());
  CHECK(said.jobs[1].set_s == 2.45);
  CHECK(said.jobs[5].set_s == 2.65);
  CHECK(said.jobs[5].set_text == "2.65 s");
  CHECK_FALSE(said.jobs[10].set_s);
  const std::string whole = show_terminal(say_queue(night), {});
  CHECK(whole.starts_with(show_terminal(said.first, {})));
  CHECK_THAT(show_terminal(said.records, {}), Contains("chalk.json") && Contains("210 days"));
}

TEST_CASE("job by job, copies have each their print, and what is said of all of them is said once") {
  CheckedQueue night = one_printer(1);
  night.entries[0] = doubtful(night.entries[0]);
  night.entries[0].job.copies = 3;
  night.plan.prints.push_back({.job = 0, .copy = 2, .start_s = hour_s, .end_s = 2 * hour_s, .resin_left_ml = {}});
  night.plan.not_planned.push_back({.job = 0, .why = LeftOut::no_resin, .printer = 0, .needed = 10, .available = 4});
  const std::string text = show_terminal(say_by_job(night).jobs.at(0).said, {});
  CHECK_THAT(text, Contains("1 h, done 2 h after the start, 2 of 3") && Contains("1 of 3 copies"));
  const std::string reason = "A gap 0.15 mm wide";
  CHECK(text.find(reason) != std::string::npos);
  CHECK(text.find(reason) == text.rfind(reason));
}
