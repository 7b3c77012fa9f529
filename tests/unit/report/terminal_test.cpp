// The report on a terminal: the answer in 16 lines, at most 60 more, one fact in one place, words a person uses.
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <regex>
#include <sstream>

#include "report/lines.hpp"
#include "sample.hpp"

using namespace hairline;

namespace {

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

std::size_t times_said(const std::string& text, const std::string& part) {
  std::size_t count = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + part.size())) ++count;
  return count;
}

// Without line breaks, so that a phrase is found wherever it wraps.
std::string flowing(const std::string& text) {
  std::string out;
  for (const char c : text) {
    const char shown = c == '\n' ? ' ' : c;
    if (shown != ' ' || out.empty() || out.back() != ' ') out += shown;
  }
  return out;
}

std::string to_terminal(const Report& report, const TerminalStyle& style) {
  return show_terminal(say_report(report, style), style);
}

std::string to_sweep_terminal(const Report& report, const TerminalStyle& style) {
  return show_terminal(say_sweep(report), style);
}

std::string shown(const Report& report) {
  return flowing(to_terminal(report, {}));
}

// Up to the first empty line.
std::vector<std::string> answer_of(const std::string& text) {
  std::vector<std::string> lines = lines_of(text);
  lines.resize(static_cast<std::size_t>(std::find(lines.begin(), lines.end(), "") - lines.begin()));
  return lines;
}

std::string answer(const Report& report) {
  std::string text;
  for (const std::string& line : answer_of(to_terminal(report, {}))) text += line + '\n';
  return flowing(text);
}

// From a heading to the next empty line; empty without that heading.
std::string section(const std::string& text, const std::string& heading) {
  const std::size_t from = text.find("\n\n" + heading);
  if (from == std::string::npos) return {};
  return flowing(text.substr(from + 2, text.find("\n\n", from + 2) - from - 2));
}

// Every kind of report there is.
std::vector<Report> all_reports() {
  return {sample::gallery(),       sample::cottage(), sample::cutter(),   sample::measured_only(), sample::under_bond(),
          sample::nothing_solid(), sample::busy(),    sample::busy(true), sample::hostile()};
}

}  // namespace

TEST_CASE("the answer: may I start, which time, lost now and then, what is lost and where, what to do first") {
  const std::string text = to_terminal(sample::gallery(), {});
  CHECK(text.rfind("HOLD     Do not start this print as it is.\n", 0) == 0);
  const std::string said = answer(sample::gallery());
  CHECK(has(said,
            "Set 2.65 s a layer instead of 2.30 s. Lost now: 14 parts missing, 1 gap closed. Lost then: no part "
            "missing, 1 gap closed."));
  CHECK(has(said,
            "#1 14 thin parts alike (#1 to #14) will be missing (83 %): 0.10 mm thick, 1.20 mm apart, layers 811 "
            "to 974 (40.5 to 48.7 mm up), x 12.0 to 27.7, y 8.0 to 8.1 mm. Most of each prints from 2.41 s on."));
  CHECK(has(said, "3.50 mm3 falls with them, from layer 975 (48.7 mm up) on."));
  CHECK(has(said, "And 1 gap more."));
  CHECK(has(said, "also Put supports under the island on layer 1800"));
  CHECK(has(said, "record The lamp has run 230 hours"));
  CHECK(has(said, "Judged at 2.30 s a layer; the job itself says 2.50 s."));
  CHECK(has(said, "7 h 48 min to print; 61.2 ml (67.3 g) of resin, cost 2.45 (at 40 a litre)."));
}

TEST_CASE("16 lines of answer and 60 below it, whatever is found, and no line over the columns") {
  for (const Report& report : all_reports()) {
    INFO(report.job.title);
    const std::string text = to_terminal(report, {});
    CHECK(answer_of(text).size() <= 16);
    CHECK(lines_of(text).size() <= answer_of(text).size() + 60);
    CHECK(text.back() == '\n');
    for (const std::uint32_t columns : {60u, 61u, 79u, 80u, 100u, 120u, 200u}) {
      for (const std::uint32_t details : {0u, 1u, 10u, 11u, UINT32_MAX}) {
        const TerminalStyle style = {.colour = false, .columns = columns, .details = details};
        CHECK(answer_of(to_terminal(report, style)).size() <= 16);
        for (const std::string& line : lines_of(to_terminal(report, style) + to_sweep_terminal(report, style))) {
          INFO(line);
          CHECK(width_of(line) <= columns);
        }
      }
    }
  }
}

TEST_CASE("long names, wide characters and long reasons stay within the answer") {
  Report report = sample::gallery();
  report.job.file = std::string(300, 'f') + ".zip";
  report.job.title = "\xE7\x81\xAF\xE5\x8F\xB0\xE7\x81\xAF\xE5\x8F\xB0";  // lighthouse, in wide characters
  for (std::string& reason : report.reasons) reason += " " + std::string(400, 'r') + ".";
  report.record->doubts = {std::string(500, 'd')};
  report.suggestion->slicing = {std::string(500, 's')};
  report.details[3].from_layer = 99998;
  report.details[3].to_layer = 99999;
  for (const std::uint32_t columns : {60u, 80u}) {
    const std::string text = to_terminal(report, {.colour = false, .columns = columns, .details = 10});
    CHECK(answer_of(text).size() <= 16);
    CHECK(has(text, "\n#1 "));
    for (const std::string& line : lines_of(text)) CHECK(width_of(line) <= columns);
  }
}

TEST_CASE("a clear job is short, and told to keep its time") {
  const std::string text = to_terminal(sample::cottage(), {});
  CHECK(text.rfind("CLEAR    You can start this print.\n", 0) == 0);
  CHECK(has(flowing(text), "Keep 2.50 s a layer: nothing is lost at it."));
  CHECK(has(flowing(text), "From 1.90 to 3.05 s nothing that a time of the record can save is at risk."));
  CHECK(lines_of(text).size() <= 31);
  CHECK(has(flowing(text),
            "At 2.50 s walls print 0.05 mm thicker, slots 0.05 mm narrower than drawn (in base layers "
            "0.16 mm); an outline correction of -0.027 mm in the slicer undoes it, if every wall can spare 0.05 mm."));
  CHECK(answer_of(text).size() <= 5);
  CHECK_FALSE(has(text, "\ndo "));
}

TEST_CASE("what will and what may be lost stand in lists of their own, each with its number") {
  Report report = sample::gallery();
  Detail may = sample::cutter().details[0];
  for (std::uint32_t i = 0; i < 3; ++i) {
    may.id = 16 + i;
    may.from_layer = 540 - i;
    report.details.insert(report.details.end() - 1, may);
  }
  report.details.back().id = 19;
  TerminalStyle in_full;
  in_full.details = 100;
  const std::string text = to_terminal(report, in_full);
  const std::string will = section(text, "Will be lost"), perhaps = section(text, "May be lost");
  CHECK(has(will, "#15 A narrow gap will be closed (over 99 %): 0.15 mm wide, 1.5 mm long, layers 117 to 120"));
  CHECK(has(will, "No time of the record saves it."));
  CHECK_FALSE(has(will, "may be"));
  for (const char* number : {"#16 ", "#17 ", "#18 "}) CHECK(has(perhaps, number));
  CHECK(has(perhaps, "A thin part may be missing (12 %)"));
  CHECK(has(perhaps, "62 % of it could go"));
  CHECK_FALSE(has(perhaps, "will be"));
  CHECK_FALSE(has(text, "#19"));  // rounding is no finding
  CHECK_FALSE(has(answer(report), "may be missing"));
}

TEST_CASE("a loss whose share is small says why it is one") {
  Report report = sample::gallery();
  Detail& hole = report.details[14];
  const auto line = [&] {
    TerminalStyle in_full;
    in_full.details = 100;
    return section(to_terminal(report, in_full), "Will be lost");
  };
  hole.share = 0.04, hole.reach_mm = 0.62;
  CHECK(has(line(),
            "#15 A narrow gap will be closed (over 99 %): 0.15 mm wide, 1.5 mm long, 4 % of it fills, up to "
            "0.62 mm deep, layers 117 to 120"));
  hole.share = 0.4;
  CHECK(has(line(), "40 % of it fills, layers 117 to 120"));
  hole.share = 0.04, hole.reach_mm = 0.1, hole.shuts = true;
  CHECK(has(line(),
            "#15 A narrow gap will close and shut a way through (over 99 %): 0.15 mm wide, 1.5 mm long, 4 % of it "
            "fills, layers 117 to 120"));
}

TEST_CASE("what else can be done stands in the answer as far as it fits, and only once") {
  const std::string text = to_terminal(sample::gallery(), {});
  CHECK(has(answer(sample::gallery()), "Put supports under the island on layer 1800"));
  CHECK(has(answer(sample::gallery()), "Widen #15: 0.20 mm instead of 0.15 mm."));
  CHECK(answer_of(text).size() <= 16);
  CHECK(text.find("Widen #15") == text.rfind("Widen #15"));
}

TEST_CASE("a time that was asked for is nowhere called the job's own") {
  Report report = sample::cottage();
  const std::string own = to_terminal(report, {});
  CHECK((has(own, "Keep ") && has(own, "< this job: keep it")));
  report.job.normal_s += 0.5;
  const std::string other = to_terminal(report, {});
  CHECK((has(other, "Stay at ") && has(other, "< judged: stay at it")));
  CHECK_FALSE((has(other, "Keep ") || has(other, "< this job")));
}

TEST_CASE("of times that were asked for alone nothing is said of those around another") {
  Report report = sample::cottage();
  Suggestion& s = *report.suggestion;
  s.window_s.reset();
  s.conflict = false;
  CHECK(has(to_terminal(report, {}), "is free of risk is narrow"));
  s.then.expected_losses = 0.3;
  CHECK(has(to_terminal(report, {}), "no stretch of times is free of risk"));
  s.sweep = {sample::row(s.exposure_s + 1, 0, 0), sample::row(s.exposure_s + 2, 0, 0)};
  CHECK_FALSE(has(to_terminal(report, {}), "no stretch of times is free of risk"));
}

TEST_CASE("counts that rise with the light are explained") {
  Report report = sample::cottage();
  const std::string pieces = "A part that goes in pieces";
  report.suggestion->sweep = {sample::row(2.0, 4, 0), sample::row(2.5, 3, 1)};
  CHECK_FALSE(has(to_terminal(report, {}), pieces));
  report.suggestion->sweep = {sample::row(2.0, 4, 0), sample::row(2.5, 14, 0)};
  CHECK(has(to_terminal(report, {}), pieces));
}

TEST_CASE("one fact stands in one place") {
  const std::string text = shown(sample::gallery());
  for (const char* fact :
       {"40.5 to 48.7 mm up", "5.8 to 6.0 mm up", "48.7 mm up) on", "hangs on nothing", "layer 301", "2.41 s",
        "x counts from the left edge of the image, y from the top", "The lamp has run", "137 creases",
        "Put supports under", "instead of 0.15 mm", "harbour-grey.json", "lift height"}) {
    INFO(fact);
    CHECK(times_said(text, fact) == 1);
  }
}

TEST_CASE("words no one uses at a printer, and phrases that say nothing, are not used") {
  const std::regex banned(
      "exactly this time|to live at|expected loss|critical|log sd|log_sd|\\b0(\\.0+)? (px|layers|mm) (wider|thicker|"
      "higher|more)|covariance|probability|voxel|lost_fraction|contender|nan|inf\\b",
      std::regex::icase);
  for (Report report : all_reports()) {
    if (report.job.title.rfind("gallery\x1b", 0) == 0) continue;  // its width is not a number
    const std::string text = shown(report) + flowing(to_sweep_terminal(report, {}));
    std::smatch found;
    INFO(report.job.title << ": " << (std::regex_search(text, found, banned) ? found.str() : ""));
    CHECK_FALSE(std::regex_search(text, banned));
  }
}

TEST_CASE("a time where it prints, or two where alike details differ") {
  Report report = sample::gallery();
  report.details[13].critical_exposure_s = 2.52;
  report.details[13].probability = 0.95;
  CHECK(has(answer(report), "will be missing (83 % to 95 %)"));
  CHECK(has(answer(report), "Most of each prints from 2.41 to 2.52 s on."));
}

TEST_CASE("an exception of the job that is to blame comes before another time, which exceptions follow") {
  Report report = sample::gallery();
  REQUIRE(report.suggestion->action == Action::change);
  CHECK_FALSE(has(answer(report), "exceptions"));
  for (LayerRow& row : report.layers)
    if (row.kind == LayerKind::normal) row.exposure_s = 1.9;
  CHECK(has(answer(report), "time Set 2.65 s a layer instead of 2.30 s, and 1.15 times as much in its exceptions."));
  report.suggestion->exception = OwnTime{2, 3, 1.9};
  report.suggestion->tonight.insert(report.suggestion->tonight.begin(), "First give layers 2 to 3 the others' time.");
  const std::string said = answer(report);
  CHECK(said.find("do First give layers 2 to 3") < said.find("time With the job as it is, set 2.65 s a layer"));
  CHECK(has(said, "time With the job as it is, set 2.65 s a layer"));
}

TEST_CASE("a reason that the answer has no room for comes next") {
  Report report = sample::busy();
  const std::string text = to_terminal(report, {});
  CHECK(text.find("The base exposure of 30 s") < text.find("Will be lost as well"));
}

TEST_CASE("rounding and crumbs are one line each") {
  const std::string text = to_terminal(sample::cottage(), {});
  CHECK(has(text, "\nrounding 137 creases and edges round by up to 0.05 mm.\n"));
  CHECK(has(text, "\ncrumbs   15 crumbs too small to list (0.003 mm3) and 1 speck of under 4 pixels.\n"));
  Report report = sample::cottage();
  report.rounding = {.vanish = 0, .fuse = 1, .fuse_mm3 = 0.1, .deepest_mm = 0.002, .not_looked_at = 4};
  report.crumbs.deep_mm3 = 0.002;
  report.crumbs.longest = Crumbs::Place{Fate::vanish, 61, 61, {{1.9, 2.8, 3}, {2.3, 2.8, 3.05}}};
  CHECK(has(shown(report), "rounding 1 crease fills by less than 0.01 mm. 4 of them were not looked at closely."));
  CHECK(
      has(shown(report), "(0.003 mm3, 0.002 of them deep: up to 0.40 mm on layer 61 (3.0 mm up), at x 2.1, y 2.8 mm)"));
  report.crumbs.deep_mm3 = 0.2;  // a reason then, with the place
  CHECK(has(shown(report), "(0.003 mm3)"));
  report.rounding = {};
  report.crumbs = {};
  report.speck_count = 0;
  CHECK_FALSE(has(shown(report), "rounding"));
  CHECK_FALSE(has(shown(report), "crumbs"));
}

TEST_CASE("falls are named with the worst detail they hang on, or in one line") {
  Report report = sample::gallery();
  report.falls = {{.layer = 990, .loose = true, .box = {{1, 1, 49.5}, {2, 2, 50}}, .volume_mm3 = 0.3, .details = {15}},
                  {.layer = 980, .loose = true, .box = {{3, 1, 49}, {4, 2, 50}}, .volume_mm3 = 0.2, .details = {15}},
                  {.layer = 985, .loose = false, .box = {{3, 1, 49.2}, {4, 2, 50}}, .volume_mm3 = 0.4, .details = {15}},
                  {.layer = 70, .loose = false, .box = {{5, 1, 3.5}, {6, 2, 4}}, .volume_mm3 = 0.1, .details = {}},
                  {.layer = 60, .loose = true, .box = {{5, 1, 3}, {6, 2, 4}}, .volume_mm3 = 0.05, .details = {16}}};
  const std::string text = to_terminal(report, {});
  CHECK(has(section(text, "Will be lost"), "#15 A narrow gap will be closed"));
  CHECK(has(section(text, "Will be lost"),
            "0.50 mm3 (2 bodies) fall with it, from layer 980 (49.0 mm up) on. 0.40 mm3 above it starts on nothing."));
  CHECK(has(flowing(text),
            "falls 2 bodies (0.15 mm3 in all) hang on something too small to list; the biggest: layer "
            "70 (3.5 mm up), at x 5.5, y 1.5 mm."));
}

TEST_CASE("a detail that may be lost says what hangs on it") {
  Report report = sample::cutter();
  report.details[0].carries_mm3 = 14;
  CHECK(has(answer(report), "Most of it prints from 2.34 s on. On it hang 14.0 mm3."));
}

TEST_CASE("islands: biggest first, those held by what fills as a note") {
  Report report = sample::gallery();
  report.reasons.clear();
  std::string text = to_terminal(report, {});
  const std::string list = section(text, "Pieces that start with nothing beneath them");
  CHECK(has(list, "island 1 Starts with 4.00 mm2 on layer 1800"));
  CHECK(has(list, "island 2 Starts with 1.90 mm2 on layer 301"));
  CHECK(has(list, "grows to 14.2 mm3 until it joins the rest on layer 377."));
  text = to_terminal(sample::cutter(), {});
  CHECK(section(text, "Pieces that start").empty());
  CHECK(has(text, "\nislands  1 island starts over a gap that fills, and is held by that.\n"));
}

TEST_CASE("a lead that fills its column keeps a blank before the text") {
  const std::string text = to_terminal(sample::busy(), {.colour = false, .columns = 80, .details = 400});
  CHECK(has(text, "\nisland 9 Starts with "));
  CHECK(has(text, "\nisland 100 Starts with "));
}

TEST_CASE("the table of times: at most 13 rows, this job and the time to set marked") {
  const std::string text = to_terminal(sample::gallery(), {});
  CHECK(has(text, "\n           time  missing  closed  harm mm\n"));
  CHECK(has(text, "\n         1.80 s       14       1      120  may not bond (2 %)\n"));
  CHECK(has(text, "\n 1.90 to 2.20 s       14       1      120\n"));
  CHECK(has(text, "\n         2.30 s       14       1      120  < judged\n"));
  CHECK(has(text, "\n         2.65 s        0       1      1.5  < set this\n"));
  CHECK(times_said(text, "< set this") == 1);
  CHECK(has(to_terminal(sample::cottage(), {}), "2.50 s        0       0        0  < this job: keep it\n"));
  CHECK(has(to_terminal(sample::under_bond(), {}),
            "2.00 s        -       -        -  the whole print fails  < this job\n"));
}

TEST_CASE("a wide part that is grey in the masks is not called thin") {
  Report report = sample::gallery();
  Detail grey = report.details.front();
  grey.fate = Fate::vanish, grey.state = State::will, grey.lost = true, grey.base = false;
  grey.critical_exposure_s = 2.72, grey.width_mm = wall_limit_mm(report.record->model, 2.72);
  grey.box = {{4, 4, 1.5}, {6, 6, 3}}, grey.volume_mm3 = 6, grey.extent_mm = 3.2, grey.share = 1;
  report.details = {grey};
  report.falls.clear();
  CHECK(has(shown(report), "A part will be missing ("));
  CHECK(has(shown(report), "): grey in the masks, 3.2 mm long, layers"));
  report.details[0].width_mm = 0.09;  // measured
  CHECK(has(shown(report), "A thin part will be missing ("));
}

TEST_CASE("the window in words, and why there is none") {
  Report report = sample::gallery();
  CHECK(has(shown(report), "From 2.50 to 2.90 s nothing that a time of the record can save is at risk."));
  report.suggestion->window_s.reset();
  CHECK(has(shown(report), "Around 2.65 s no stretch of times is free of risk."));
  report.suggestion->conflict = true;
  CHECK(has(shown(report), "At every time something that a time can save is at risk."));
  report.suggestion->coupons = CouponAdvice{.exposures_s = {3.4, 3.6, 3.8}, .saves = 3};
  report.suggestion->coarse_sweep = true;
  CHECK(
      has(shown(report), "Coupons at 3.40, 3.60 and 3.80 s, beyond the record's times, may show a time that saves 3"));
  CHECK(has(shown(report), "The range is so wide that the times stand over 5 % apart."));
}

TEST_CASE("where no time is free of risk, a time at which nothing is lost is no promise") {
  Report report = sample::gallery();
  report.suggestion->then.vanish = report.suggestion->then.fuse = 0;
  report.suggestion->then.expected_mm = report.suggestion->then.expected_losses = 0;
  CHECK(has(answer(report), "Lost then: nothing."));
  report.suggestion->conflict = true;
  CHECK(has(answer(report), "Lost then: nothing for certain."));
  report = sample::cottage();
  CHECK(has(answer(report), ": nothing is lost at it."));
  report.suggestion->conflict = true;
  CHECK(has(answer(report), "; no other time is clearly better."));
}

TEST_CASE("times of a sweep beyond the record are called a guess") {
  Report report = sample::gallery();
  const char* guess = "Times beyond the record (1.80 to 3.20 s) are a guess: print coupons there first.";
  report.suggestion->sweep.push_back(sample::row(3.4, 0, 1));
  CHECK_FALSE(has(shown(report), guess));  // one may be the job's own: the answer says so then
  report.suggestion->sweep.push_back(sample::row(3.6, 0, 2));
  CHECK(has(shown(report), guess));
}

TEST_CASE("where the counts stay the same, a change of time says what it is for") {
  Report report = sample::gallery();
  report.suggestion->then = report.suggestion->now;
  report.suggestion->then.expected_mm = 12;
  CHECK(has(answer(report), "Less of each: the harm falls from 120 to 12 mm."));
  report.suggestion->then.fuse += 2;
  CHECK(has(answer(report), "Smaller ones: the harm falls from 120 to 12 mm."));
  report.suggestion->then = sample::row(2.65, 0, 1);
  CHECK_FALSE(has(answer(report), "harm falls"));
}

TEST_CASE("a change for the sake of the whole print says so") {
  Report report = sample::cottage();
  report.suggestion->action = Action::change;
  report.suggestion->now = report.suggestion->then = sample::row(2.5, 0, 0);
  report.suggestion->now.bulk_chance = 0.31;
  const std::string said = answer(report);
  CHECK(has(said, "Lost now: nothing for certain. Lost then: nothing. At 2.50 s the whole print may fail (31 %)."));
  CHECK_FALSE(has(said, "harm"));
}

TEST_CASE("nothing is lost is not said where small pieces alone are reason enough") {
  Report report = sample::cottage();
  report.verdict = Verdict::hold;
  report.reasons = {"8 % of the print does not cure at 2.50 s, all small pieces counted."};
  CHECK(has(answer(report), "nothing is lost at it"));
  double normal_mm3 = 0;
  for (const LayerRow& row : report.layers)
    if (row.kind == LayerKind::normal) normal_mm3 += row.solid_mm2 * row.height_mm;
  report.crumbs.vanish_mm3 = 0.08 * normal_mm3;
  CHECK_FALSE(has(answer(report), "nothing is lost"));
  CHECK(has(answer(report), "no other time is clearly better"));
}

TEST_CASE("a time is kept although something is lost") {
  Report report = sample::gallery();
  report.suggestion->action = Action::keep;
  report.suggestion->exposure_s = 2.3;
  CHECK(has(answer(report),
            "Stay at 2.30 s a layer. Lost: 14 parts missing, 1 gap closed; no other time loses "
            "clearly less."));
  CHECK(has(shown(report), "Set the exposure to 2.65 s."));  // no longer the time the answer names
}

TEST_CASE("a caution names what may be lost in the answer") {
  const std::string said = answer(sample::cutter());
  CHECK(has(said, "CAUTION You can start this print, but read these lines first."));
  CHECK(has(said, "Keep 2.50 s a layer; no other time is clearly better."));
  CHECK(has(said, "#1 A thin part may be missing (12 %)"));
  CHECK(has(said, "do Start it if you can do without what is named here."));
}

TEST_CASE("doubts about the record stand in the answer, once, also when they are reasons") {
  Report report = sample::cottage();
  report.verdict = Verdict::caution;
  report.record->doubts = {"2.50 s lies outside the times the record covers.", "The record is 41 days old."};
  report.reasons = report.record->doubts;
  const std::string said = answer(report);
  CHECK(has(said, "record 2.50 s lies outside the times the record covers. The record is 41 days old."));
  CHECK(times_said(shown(report), "41 days old") == 1);
  // In full as long as the answer has room for it.
  report.record->doubts = {std::string(160, 'd') + " and " + std::string(60, 'e') + " is said to its end."};
  report.reasons = report.record->doubts;
  CHECK(has(answer(report), "is said to its end."));
  CHECK(has(said, "do Start it if what is named here does not matter to you."));
}

TEST_CASE("a print that fails as a whole: why, from which time on it would not, coupons first") {
  const std::string said = answer(sample::under_bond());
  CHECK(has(said, "HOLD Do not start this print: it would fail as a whole."));
  CHECK(said.find("gets 2.00 s and needs 2.48 s") < said.find("bond from about 3.3 s on"));
  CHECK(has(said,
            "do Make a record of its own for layers of 0.12 mm (`hairline record new`), print those coupons for it"));
  CHECK_FALSE(has(shown(sample::under_bond()), "nothing is lost"));
  CHECK(times_said(shown(sample::under_bond()), "3.40 s") == 1);
}

TEST_CASE("no coupons to print are named where there are none") {
  Report report = sample::under_bond();
  report.suggestion->coupons.reset();
  report.suggestion->tonight.clear();
  report.suggestion->slicing = {"Slice thinner layers."};
  report.suggestion->text = "No time of the record prints this: more than half of it does not cure.";
  CHECK(has(answer(report), "do Slice thinner layers."));
  CHECK_FALSE(has(shown(report), "oupons"));
}

TEST_CASE("nothing solid: the masks are blamed, and no time is named") {
  const std::string text = shown(sample::nothing_solid());
  CHECK(has(text, "why Nothing is solid in the normal layers: the masks are grey (110 of 255 at most)."));
  CHECK_FALSE(has(text, "Keep "));
  CHECK_FALSE(has(text, "coupons"));
  CHECK_FALSE(has(text, "harm"));
}

TEST_CASE("measured only: no losses, no record, no limits of a model that was not run") {
  const std::string text = shown(sample::measured_only());
  CHECK(has(text, "2.50 s a layer; `hairline check` with a resin record says what is lost at it."));
  CHECK(has(text, "thinnest wall 0.10 mm: layer 2 (0.1 mm up), at x 12.1, y 8.1 mm."));
  CHECK(
      has(text, "812 mm2 on it; largest layer 655 (32.7 mm up): 1204 mm2. 5 base layers of 30 s, 12 times the normal"));
  for (const char* word : {"left out", "dose", "shrinkage", "harbour", "rounding", "missing", "Keep", "wider a side"}) {
    INFO(word);
    CHECK_FALSE(has(text, word));
  }
}

TEST_CASE("more details on request, and how many were left out") {
  const Report report = sample::busy();
  const std::string few = to_terminal(report, {});
  CHECK(has(answer(report), "And 39 parts and 20 gaps more."));
  CHECK(has(section(few, "Will be lost as well"), "`--details all` lists them."));
  CHECK(has(section(few, "May be lost"), "`--details all` lists them."));
  CHECK(has(section(few, "What you can do"), "`--details all` lists them."));
  const std::string all = to_terminal(report, {.colour = false, .columns = 80, .details = UINT32_MAX});
  CHECK_FALSE(has(all, "--details all"));
  for (std::uint32_t id = 1; id <= 100; ++id) CHECK(times_said(all, "\n#" + std::to_string(id) + " ") == 1);
  CHECK(section(all, "Will be lost as well").find("#61 ") == std::string::npos);
}

TEST_CASE("the base and its findings") {
  Report report = sample::cottage();
  report.base.findings = {{"The base is hard to take off: expose it 25 s.", false}};
  CHECK(times_said(shown(report), "hard to take off") == 1);
  report.reasons = {report.base.findings[0].text};
  CHECK(times_said(shown(report), "hard to take off") == 1);
  report.base.stated = false;
  CHECK(has(shown(report), "The job does not state its base exposure."));
  report.details[0] = sample::picket(1, 4);
  report.details[0].base = true;
  report.details[0].critical_exposure_s.reset();
  CHECK(has(shown(report), "It lies in the base or transition layers, which have their own times."));
}

TEST_CASE("the sweep prints every step") {
  const std::string text = to_sweep_terminal(sample::gallery(), {});
  for (const SweepPoint& point : sample::sweep()) {
    const std::string row = fmt::format("\n {:>14}", fmt::format("{:.2f} s", point.exposure_s));
    CHECK(has(text, row));
  }
  CHECK(has(text, "< judged"));
  CHECK(has(text, "< set this"));
  CHECK(has(flowing(text), "The lamp has run 230 hours"));
}

TEST_CASE("colour only when asked for, and the same text under it") {
  const std::string plain = to_terminal(sample::gallery(), {.colour = false, .columns = 80, .details = 10});
  CHECK_FALSE(has(plain, "\x1b"));
  const std::string coloured = to_terminal(sample::gallery(), {.colour = true, .columns = 80, .details = 10});
  std::string stripped;
  for (std::size_t i = 0; i < coloured.size(); ++i) {
    if (coloured[i] == '\x1b')
      i = coloured.find('m', i);
    else
      stripped += coloured[i];
  }
  CHECK(coloured.size() > plain.size());
  CHECK(stripped == plain);
}

TEST_CASE("long names and words are wrapped however long they are") {
  // With a search through the rest of the word for each line this is 1e11 steps: it would not end.
  const std::size_t letters = 4'000'000;
  const TerminalStyle style{.colour = false, .columns = 80};
  const std::string text = show_terminal({Paragraph{std::string(letters, 'a')}}, style);
  CHECK(static_cast<std::size_t>(std::count(text.begin(), text.end(), 'a')) == letters);
  CHECK(static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n')) == letters / 80);
  std::string places;  // x and y stay with their number
  for (std::size_t i = 0; i < letters / 4; ++i) places += "x y ";
  CHECK(show_terminal({Paragraph{places}}, style).size() > places.size());

  Report report = sample::gallery();
  report.job.title.clear();
  for (std::size_t i = 0; i < letters / 2; ++i) report.job.title += "\u0301";  // takes no column
  CHECK(show_terminal(say_report(report, style), style).size() < 20'000);
}

TEST_CASE("foreign text cannot steer the terminal") {
  const std::string text = to_terminal(sample::hostile(), {});
  CHECK_FALSE(has(text, "\x1b"));
  CHECK_FALSE(has(text, "\x07"));
  CHECK(has(text, "gallery\\x1B[31m\\xFF\\x0Aclear"));
}
