// Words, groups of alike details, CSV, wrapping; the terminal report has terminal_test.cpp.
#include <catch2/catch.hpp>
#include <cmath>
#include <random>

#include "report/lines.hpp"
#include "report/words.hpp"
#include "sample.hpp"

using namespace hairline;

namespace {

bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
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
  REQUIRE(groups.size() == 3);
  CHECK(groups[0].ids.size() == 14);
  CHECK(groups[0].ids.front() == 1);
  CHECK(groups[0].ids.back() == 14);
  CHECK(groups[0].spacing_mm.value() == Approx(1.2));
  CHECK(groups[1].ids == std::vector<std::uint32_t>{15});
  CHECK_FALSE(groups[1].spacing_mm);
}

TEST_CASE("fate, state, loss, base, layers, or more than a pixel of width keep details apart") {
  std::vector<Detail> details;
  for (std::uint32_t i = 0; i < 8; ++i) details.push_back(sample::picket(i + 1, i));
  details[1].width_mm += 0.05;  // a pixel: still alike
  details[2].width_mm += 0.06;
  details[3].to_layer += 1;
  details[4].fate = Fate::fuse;
  details[5].state = State::may;
  details[6].lost = false;
  details[7].base = true;
  const auto groups = group_alike(details, {0.05, 0.05});
  REQUIRE(groups.size() == 7);
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

TEST_CASE("amounts and harms have no more figures than they are good for") {
  CHECK(amount_text(0) == "0");
  CHECK(amount_text(0.0004) == "under 0.001");
  CHECK(amount_text(0.0512) == "0.051");
  CHECK(amount_text(14.23) == "14.2");
  CHECK(amount_text(1204.4) == "1204");
  CHECK(rough_text(0) == "0");
  CHECK(rough_text(0.004) == "under 0.01");
  CHECK(rough_text(0.444) == "0.44");
  CHECK(rough_text(1) == "1.0");
  CHECK(rough_text(9.96) == "10.0");
  CHECK(rough_text(10) == "10");
  CHECK(rough_text(116.3) == "120");
  CHECK(percent_text(0.995) == "over 99 %");
  CHECK(percent_text(0.004) == "under 1 %");
}

TEST_CASE("the sweep as CSV has every row, empty where nothing is bulk") {
  Report report = sample::gallery();
  report.suggestion->sweep.resize(2);
  report.suggestion->sweep[1].bulk_chance.reset();
  CHECK(to_sweep_csv(report) ==
        "exposure_s,vanish,fuse,vanish_mm3,fuse_mm3,expected_losses,expected_mm,bulk_chance\r\n"
        "1.8,14,1,1.148,0.045,15,116.32,0.02\r\n"
        "1.9,14,1,1.148,0.045,15,116.32,\r\n");
  report.suggestion.reset();
  CHECK(to_sweep_csv(report) ==
        "exposure_s,vanish,fuse,vanish_mm3,fuse_mm3,expected_losses,expected_mm,bulk_chance\r\n");
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
  CHECK(wrapped("it is at x 3.1, y 4.0 mm up", 10) == std::vector<std::string>{"it is at", "x 3.1,", "y 4.0 mm", "up"});
  CHECK(wrapped("ends on x", 9) == std::vector<std::string>{"ends on x"});
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
