// Words, groups of alike details, CSV, and the terminal report.
#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <sstream>

#include "../../../src/report/page.hpp"
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

// The report without its line breaks, so that a phrase is found wherever it wraps.
std::string flowing(const std::string& text) {
  std::string out;
  for (const char c : text) {
    const char shown = c == '\n' ? ' ' : c;
    if (shown == ' ' && !out.empty() && out.back() == ' ') continue;
    out += shown;
  }
  return out;
}

}  // namespace

TEST_CASE("durations in the units a person would use") {
  CHECK(duration_text(0) == "0 s");
  CHECK(duration_text(-3) == "0 s");
  CHECK(duration_text(std::nan("")) == "0 s");
  CHECK(duration_text(55.4) == "55 s");
  CHECK(duration_text(59.6) == "1 min");
  CHECK(duration_text(365) == "6 min 5 s");
  CHECK(duration_text(1830) == "31 min");
  CHECK(duration_text(3599.6) == "1 h");
  CHECK(duration_text(15120) == "4 h 12 min");
  CHECK(duration_text(90000) == "25 h");
}

TEST_CASE("a row of alike pickets is one group with its spacing") {
  const Report report = sample::gallery();
  const auto groups = group_alike(report.details, report.job.pitch);
  REQUIRE(groups.size() == 2);
  CHECK(groups[0].ids.size() == 14);
  CHECK(groups[0].ids.front() == 1);
  CHECK(groups[0].ids.back() == 14);
  CHECK(groups[0].spacing_mm.value() == Approx(1.2));
  CHECK(groups[1].ids == std::vector<std::uint32_t>{15});
  CHECK_FALSE(groups[1].spacing_mm);
}

TEST_CASE("fate, layers, or more than a pixel of width keep details apart") {
  std::vector<Detail> details = {sample::picket(1, 0), sample::picket(2, 1), sample::picket(3, 2), sample::picket(4, 3),
                                 sample::picket(5, 4)};
  details[1].width_mm += 0.05;  // a pixel: still alike
  details[2].width_mm += 0.06;
  details[3].to_layer += 1;
  details[4].fate = Fate::fuse;
  const auto groups = group_alike(details, {0.05, 0.05});
  REQUIRE(groups.size() == 4);
  CHECK(groups[0].ids == std::vector<std::uint32_t>{1, 2});
}

TEST_CASE("spacing equals the median nearest distance found by trying every pair") {
  std::mt19937 random(7);
  std::uniform_int_distribution<int> place(0, 400);
  for (int round = 0; round < 20; ++round) {
    std::vector<Detail> details;
    for (std::uint32_t i = 0; i < 41; ++i) {
      Detail detail = sample::picket(i + 1, 0.1 * place(random));
      const double y_mm = 0.1 * place(random);
      detail.box.from.y = y_mm;
      detail.box.to.y = y_mm;
      details.push_back(detail);
    }
    std::vector<double> nearest;
    for (const Detail& a : details) {
      double best = 1e9;
      for (const Detail& b : details)
        if (a.id != b.id) best = std::min(best, std::hypot(a.box.from.x - b.box.from.x, a.box.from.y - b.box.from.y));
      nearest.push_back(best);
    }
    std::sort(nearest.begin(), nearest.end());
    const auto groups = group_alike(details, {0.05, 0.05});
    REQUIRE(groups.size() == 1);
    CHECK(groups[0].spacing_mm.value() == Approx(nearest[20]));
  }
}

TEST_CASE("CSV has a header and one row per layer, lines ending in CR LF (RFC 4180)") {
  const std::string csv = to_csv(sample::gallery());
  CHECK(csv ==
        "layer,bottom_mm,height_mm,exposure_s,kind,solid_mm2,contact_mm2,pieces,islands,specks,thinnest_wall_mm,wall_x_"
        "mm,"
        "wall_y_mm,thinnest_gap_mm,gap_x_mm,gap_y_mm\r\n"
        "1,0,0.05,30,base,812,812,1,0,0,,,,,,\r\n"
        "2,0.05,0.05,2.3,normal,406,406,2,0,0,0.1,12.05,8.05,,,\r\n"
        "3,0.1,0.05,2.3,normal,270.667,270.667,3,0,0,,,,,,\r\n");
}

TEST_CASE("the terminal report starts with the verdict and says what, where, how surely, and what to do") {
  const std::string text = to_terminal(sample::gallery(), {});
  CHECK(text.rfind("HOLD", 0) == 0);
  CHECK(text.back() == '\n');
  const std::string flow = flowing(text);
  CHECK(has(flow, "14 thin parts alike, spaced 1.20 mm: very likely to vanish (83 %)"));
  CHECK(has(flow, "layers 811 to 974, 40.50 to 48.70 mm up"));
  CHECK(has(flow, "x 12.00 to 27.70, y 8.00 to 8.10 mm"));
  CHECK(has(flow, "0.10 mm thick, 1.15 mm3 together"));
  CHECK(has(flow, "prints from 2.41 s a layer on"));
  CHECK(has(flow, "3.50 mm3 that hangs on it alone"));
  CHECK(has(flow, "Narrow gap: unlikely to close (7 %)"));
  CHECK(has(flow, "no time in the record's range saves it"));
  CHECK(has(flow, "12 that vanish and 3 that close (0.003 mm3 in all)"));
  CHECK(has(flow, "; held only by #1, #2, #3, #4 and 1 more"));
  CHECK(has(flow, "until it joins the rest on layer 377"));
  CHECK(has(flow, "never joins the rest"));
  CHECK(has(flow, "1 speck of under 4 pixels"));
  CHECK(has(flow, "812 mm2 on the plate; the largest layer is 655 with 1204 mm2"));
  CHECK(has(flow, "2.65 s a layer; safe from 2.46 to 2.86 s; base layers 26 s"));
  CHECK(has(flow, "0.15 mm drawn, needs 0.20 mm (1 px wider)"));
  CHECK(has(flow, "tonight Set the normal exposure to 2.65 s."));
  CHECK(has(flow, "7 h 48 min to print; 61.2 ml (67.3 g) of resin"));
  CHECK(has(flow, "6 days old"));
  CHECK(has(flow, "The lamp has run 230 hours"));
  CHECK(has(flow, "one dose threshold; no shrinkage"));
  CHECK(has(flow, "lift height 6 mm"));
}

TEST_CASE("the biggest island comes first") {
  const std::string flow = flowing(to_terminal(sample::gallery(), {}));
  CHECK(flow.find("Layer 1800") < flow.find("Layer 301"));
}

TEST_CASE("no line is wider than the terminal, from 60 columns up") {
  Report report = sample::hostile();
  report.job.file = std::string(300, 'f') + ".zip";
  report.job.title = "\xE7\x81\xAF\xE5\x8F\xB0\xE7\x81\xAF\xE5\x8F\xB0";  // lighthouse, in wide characters
  report.details[3].from_layer = 99998;
  report.details[3].to_layer = 99999;
  for (const std::uint32_t columns : {60u, 61u, 79u, 80u, 100u, 120u, 200u}) {
    for (const std::string& line :
         lines_of(to_terminal(report, {.colour = false, .columns = columns, .details = 10}))) {
      INFO(line);
      CHECK(width_of(line) <= columns);
    }
    for (const std::string& line :
         lines_of(to_sweep_terminal(report, {.colour = false, .columns = columns, .details = 10}))) {
      INFO(line);
      CHECK(width_of(line) <= columns);
    }
  }
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

TEST_CASE("foreign text cannot steer the terminal") {
  const std::string text = to_terminal(sample::hostile(), {});
  CHECK_FALSE(has(text, "\x1b"));
  CHECK_FALSE(has(text, "\x07"));
  CHECK(has(text, "gallery\\x1B[31m\\xFF\\x0Aclear"));
}

TEST_CASE("details beyond the limit are in the totals, all of them on request") {
  Report report = sample::gallery();
  for (std::size_t i = 0; i < report.details.size(); ++i) {  // no two alike
    report.details[i].from_layer = 100 + static_cast<std::uint32_t>(i);
    report.details[i].probability = 0.9;
  }
  const std::string few = flowing(to_terminal(report, {.colour = false, .columns = 80, .details = 4}));
  CHECK(has(few, "#4 "));
  CHECK_FALSE(has(few, "#5 Thin"));
  CHECK(has(few, "Less grave and not shown: 10 that vanish and 1 that close (0.82 mm3)."));
  const std::string all = flowing(to_terminal(report, {.colour = false, .columns = 80, .details = UINT32_MAX}));
  CHECK(has(all, "#15 "));
  CHECK_FALSE(has(all, "not shown"));
}

TEST_CASE("measured only: says so, and nothing about losses") {
  const std::string flow = flowing(to_terminal(sample::measured_only(), {}));
  CHECK(has(flow, "without a resin record"));
  CHECK_FALSE(has(flow, "What will be lost"));
  CHECK_FALSE(has(flow, "safer time"));
  CHECK(has(flow, "Thinnest wall drawn: 0.10 mm, on layer 2"));
}

TEST_CASE("the sweep prints every step") {
  const std::string text = to_sweep_terminal(sample::gallery(), {});
  std::size_t rows = 0;
  for (const std::string& line : lines_of(text)) rows += has(line, " s  ") && line[0] == ' ' && has(line, ".") ? 1 : 0;
  CHECK(rows >= 29);
  CHECK(has(text, "< this job"));
  CHECK(has(text, "< suggested"));
}

TEST_CASE("wrapping keeps every word and never loses a character") {
  const std::string text = "one two  three " + std::string(130, 'x') + " four";
  std::string joined;
  for (const std::string& line : wrapped(text, 20)) {
    CHECK(width_of(line) <= 20);
    for (const char c : line)
      if (c != ' ') joined += c;
  }
  CHECK(joined == "onetwothree" + std::string(130, 'x') + "four");
  CHECK(wrapped("", 20) == std::vector<std::string>{""});
}

TEST_CASE("wrapping keeps a unit with its number") {
  CHECK(wrapped("it needs 3.20 s. Then", 14) == std::vector<std::string>{"it needs", "3.20 s. Then"});
  CHECK(wrapped("from 1 to 30 (35 % at", 16) == std::vector<std::string>{"from 1 to 30", "(35 % at"});
  CHECK(wrapped("layers 1 to 3", 9) == std::vector<std::string>{"layers 1", "to 3"});
  CHECK(wrapped("ends on 3", 9) == std::vector<std::string>{"ends on 3"});
}

TEST_CASE("bodies that hang on the same details are one entry") {
  Report report = sample::gallery();
  report.falls = {{.layer = 90, .loose = true, .box = {{1, 1, 4.5}, {2, 2, 5}}, .volume_mm3 = 0.3, .details = {1}},
                  {.layer = 80, .loose = true, .box = {{3, 1, 4}, {4, 2, 5}}, .volume_mm3 = 0.2, .details = {1}},
                  {.layer = 70, .loose = false, .box = {{5, 1, 3.5}, {6, 2, 4}}, .volume_mm3 = 0.1, .details = {}}};
  const std::string flow = flowing(to_terminal(report, {}));
  CHECK(has(flow, "2 bodies, 0.50 mm3 together, that begin on layers 80 to 90; the biggest from layer 90 on"));
  CHECK(has(flow, "held only by #1."));
  CHECK(has(flow, "without crumbs nothing is beneath, but a sound part higher up holds."));
}

TEST_CASE("a progress line fits its width and tells rate and time left") {
  CHECK(progress_text(0, 0, 3, 80) == "reading");
  const std::string half = progress_text(50, 100, 10, 80);
  CHECK(has(half, "50 of 100, 5 layers/s, 10 s left"));
  CHECK(half.rfind("###############...............", 0) == 0);
  CHECK_FALSE(has(progress_text(1, 100, 0.1, 80), "left"));
  for (const std::uint32_t columns : {1u, 10u, 20u, 40u, 200u})
    CHECK(progress_text(7, 100, 9, columns).size() < columns);
}
