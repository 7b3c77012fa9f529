// Where up the print the findings sit, in characters (common practice, no source).
#include <catch2/catch.hpp>

#include "report/lines.hpp"
#include "sample.hpp"

using namespace hairline;

namespace {

// A print 60 mm tall: 12 mm2 up to 10 mm, 6 mm2 above.
Report tower() {
  Report report = sample::gallery();
  report.job.height_mm = 60;
  report.islands.clear();
  report.falls.clear();
  report.layers.clear();
  for (std::uint32_t n = 1; n <= 60; ++n) {
    LayerRow row;
    row.layer = n;
    row.height_mm = 1;
    row.bottom_mm = n - 1;
    row.solid_mm2 = n <= 10 ? 12 : 6;
    report.layers.push_back(row);
  }
  report.details = {sample::picket(1, 4), sample::porthole(2)};
  return report;
}

std::vector<std::string> bar_of(const Report& report, const TerminalStyle& style = {}) {
  for (const DocumentBlock& block : say_report(report, style))
    if (const auto* picture = std::get_if<Picture>(&block)) return picture->drawing;
  return {};
}

}  // namespace

TEST_CASE("height bar: six bands, the highest first, with solid area and findings") {
  const std::vector<std::string> bar = bar_of(tower());
  REQUIRE(bar.size() == 6);
  // Picket 1 stands from 40.5 to 48.7 mm, porthole 2 from 5.8 to 6 mm.
  CHECK(bar[0] == "     50 to 60 mm ==========");
  CHECK(bar[1] == "     40 to 50 mm ==========           #1");
  CHECK(bar[5] == "      0 to 10 mm ==================== #2");
}

TEST_CASE("height bar: block characters where the terminal shows them") {
  Report report = tower();
  for (LayerRow& row : report.layers)
    if (row.layer > 50) row.solid_mm2 = 0.6;  // a twentieth: one column
  TerminalStyle style;
  style.blocks = true;
  const std::vector<std::string> bar = bar_of(report, style);
  REQUIRE(bar.size() == 6);
  CHECK(bar[0] == "     50 to 60 mm █");
  CHECK(width_of(bar[1]) == width_of(bar_of(report)[1]));
}

TEST_CASE("height bar: nothing is drawn where all lies in one place, or nothing is found") {
  Report report = tower();
  report.details = {sample::picket(1, 4)};
  CHECK(bar_of(report).empty());
  report.details.clear();
  CHECK(bar_of(report).empty());
}

TEST_CASE("height bar: islands are counted, and lines keep to the columns") {
  Report report = tower();
  for (std::uint32_t i = 0; i < 9; ++i) {
    IslandRow island;
    island.layer = 100 + i;
    island.height_mm = 10;  // on the border of two bands: it lies above it
    island.volume_mm3 = 9 - i;
    report.islands.push_back(island);
  }
  for (std::uint32_t id = 3; id <= 10; ++id) {
    report.details.push_back(sample::picket(id, 4 + id));
    report.details.back().width_mm = 0.1 * id;  // unlike the others
  }
  TerminalStyle narrow;
  narrow.columns = 60;
  narrow.details = 100;  // any number of lines
  const std::vector<std::string> bar = bar_of(report, narrow);
  REQUIRE(bar.size() == 6);
  CHECK(bar[4] == "     10 to 20 mm ==========           9 islands");
  for (const std::string& line : bar) CHECK(width_of(line) <= 60);
  CHECK(bar[1].find("#1, #3, #4 and 6 more") != std::string::npos);
  CHECK(bar[5].find("island") == std::string::npos);
}
