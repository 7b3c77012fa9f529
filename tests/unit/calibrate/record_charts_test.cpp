#include "hairline/record_charts.hpp"

#include <catch2/catch.hpp>
#include <regex>

#include "hairline/fit.hpp"

using namespace hairline;
using Catch::Matchers::Contains;

namespace {

CureModel model() {
  CureModel model;
  model.bond_time_s = 1.6;
  model.fuse_time_s = 0.55;
  model.blur_mm = 0.04;
  model.penetration_depth_mm = 0.16;
  model.valid_from_s = 1.8;
  model.valid_to_s = 3.2;
  return model;
}

std::size_t count(const std::string& text, const std::string& part) {
  std::size_t n = 0;
  for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) ++n;
  return n;
}

BracketReading reading(double exposure_s, double wall_mm, double slot_mm) {
  BracketReading reading;
  reading.exposure_s = exposure_s;
  reading.thinnest_wall_mm = wall_mm;
  reading.narrowest_slot_mm = slot_mm;
  return reading;
}

// The place a reading's mark is centred on, read back from the text.
std::pair<double, double> square(const std::string& svg, const std::string& kind) {
  std::smatch at;
  const std::regex form("<rect x=\"([-0-9.]+)\" y=\"([-0-9.]+)\" width=\"7\" height=\"7\" class=\"" + kind);
  REQUIRE(std::regex_search(svg, at, form));
  return {std::stod(at[1]) + 3.5, std::stod(at[2]) + 3.5};
}

}  // namespace

TEST_CASE("The limit chart has a curve for each kind, and each reading at its place") {
  const std::string svg =
      limit_chart(model(), {reading(2.0, 0.11, 0.08), reading(3.0, 0.06, 0.1)}, TimeToUse{2.2, 2, 2.6});
  CHECK(count(svg, "<path") == 8);  // four curves, four samples in the legend
  CHECK(count(svg, "data-mark=\"wall\"") == 2);
  CHECK(count(svg, "data-mark=\"slot\"") == 2);
  CHECK(count(svg, "data-mark=\"pin\"") == 0);
  CHECK_THAT(svg, Contains("use 2.2 s") && Contains("<title>wall read at 2 s: 0.11 mm</title>"));
}

TEST_CASE("A reading that the model predicts lies on its curve") {
  // Closed form: a wall of width w stands from bond_time / erf(w / (2 sqrt2 blur)) on (docs/exposure.md, Light).
  const double width_mm = 0.08, exposure_s = 1.6 / std::erf(width_mm / (2 * std::sqrt(2) * 0.04));
  const std::string svg = limit_chart(model(), {reading(exposure_s, width_mm, 0.1)}, std::nullopt);
  const auto [x, y] = square(svg, "wall");
  std::smatch path;
  REQUIRE(std::regex_search(svg, path, std::regex("<path class=\"wall\" d=\"([ML][^\"h]*)\"")));
  const std::string text = path[1];
  double nearest = 1e9;
  const std::regex point("([0-9.]+) ([0-9.]+)");
  for (std::sregex_iterator at(text.begin(), text.end(), point), end; at != end; ++at)
    nearest = std::min(nearest, std::hypot(std::stod((*at)[1]) - x, std::stod((*at)[2]) - y));
  CHECK(nearest < 2.5);  // the points of the curve are about 3.5 apart
}

TEST_CASE("The limit chart spans readings beyond the fit's range, and is empty for a single time") {
  const std::string svg = limit_chart(model(), {reading(4.0, 0.2, 0.2)}, std::nullopt);
  CHECK(square(svg, "wall").first == Approx(480 - 14).margin(0.1));  // at the right edge of the plot
  CureModel one = model();
  one.valid_to_s = one.valid_from_s;
  CHECK(limit_chart(one, {}, std::nullopt).empty());
}

TEST_CASE("Residuals stand at their exposures, those far off at the edge") {
  ResinRecord record;
  record.fit = model();
  CHECK(residual_chart(record).empty());
  record.bracket = {reading(2.0, 0.5, 0.08), reading(3.0, 0.06, 0.1)};  // a wall of 0.5 mm at 2.0 s is far off
  const std::string svg = residual_chart(record);
  CHECK(count(svg, "data-mark=\"residual\"") == residuals(record, model()).size());
  CHECK_THAT(svg, Contains("cy=\"34.0\""));  // the top of the plot
  CHECK(residual_chart({}).empty());
}
