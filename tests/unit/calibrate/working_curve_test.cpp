// Regression and optimiser against NIST's certified sets (Statistical Reference Datasets,
// https://www.itl.nist.gov/div898/strd); penetration depth against the open absorbance table of nine resins.
#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <map>
#include <sstream>

#include "hairline/fit.hpp"
#include "support/shared.hpp"

using namespace hairline;

namespace {

struct Point {
  double y, x;
};

// StRD Norris (lower difficulty): ozone monitor calibration, 36 points.
constexpr Point norris[] = {
    {0.1, 0.2},     {338.8, 337.4}, {118.1, 118.2}, {888.0, 884.6}, {9.2, 10.1},    {228.1, 226.5},
    {668.5, 666.3}, {998.5, 996.3}, {449.1, 448.6}, {778.9, 777.0}, {559.2, 558.2}, {0.3, 0.4},
    {0.1, 0.6},     {778.1, 775.5}, {668.8, 666.9}, {339.3, 338.0}, {448.9, 447.5}, {10.8, 11.6},
    {557.7, 556.0}, {228.3, 228.1}, {998.0, 995.8}, {888.8, 887.6}, {119.6, 120.2}, {0.3, 0.3},
    {0.6, 0.3},     {557.6, 556.8}, {339.3, 339.1}, {888.0, 887.2}, {998.5, 999.0}, {778.9, 779.0},
    {10.2, 11.1},   {117.6, 118.3}, {228.9, 229.2}, {668.4, 669.1}, {449.2, 448.9}, {0.2, 0.5}};

// StRD Misra1a (lower difficulty): monomolecular adsorption, y = b1 (1 - exp(-b2 x)).
constexpr Point misra1a[] = {{10.07, 77.6},  {14.73, 114.9}, {17.94, 141.1}, {23.93, 190.8}, {29.61, 239.9},
                             {35.18, 289.0}, {40.02, 332.8}, {44.82, 378.4}, {50.76, 434.8}, {55.05, 477.3},
                             {61.01, 536.8}, {66.40, 593.1}, {75.47, 689.1}, {81.78, 760.0}};

}  // namespace

TEST_CASE("linear regression agrees with NIST StRD Norris to 8 digits") {
  std::vector<std::vector<double>> rows;
  std::vector<double> y;
  for (const auto& point : norris) rows.push_back({1, point.x}), y.push_back(point.y);
  const auto fit = fit_linear(rows, y);
  REQUIRE(fit);
  CHECK(fit->coefficients[0] == Approx(-0.262323073774029).epsilon(1e-9));
  CHECK(fit->coefficients[1] == Approx(1.00211681802045).epsilon(1e-12));
  CHECK(fit->standard_errors[0] == Approx(0.232818234301152).epsilon(1e-9));
  CHECK(fit->standard_errors[1] == Approx(0.429796848199937e-03).epsilon(1e-9));
  CHECK(fit->residual_sd == Approx(0.884796396144373).epsilon(1e-9));
}

TEST_CASE("the working curve itself agrees with NIST StRD Norris to 8 digits") {
  // Norris as cure depths: ln t plays x, the depth y (x / 1000 keeps the exponential in range, shifted so that depths
  // are over 0).
  std::vector<CureDepthReading> readings;
  for (const auto& point : norris) readings.push_back({std::exp(point.x / 1000), point.y + 10, "", {}});
  const auto curve = fit_working_curve(readings, 4.0);
  REQUIRE(curve);
  CHECK(curve->penetration_depth_mm == Approx(1002.11681802045).epsilon(1e-9));
  CHECK(curve->penetration_depth_se_mm == Approx(0.429796848199937).epsilon(1e-8));
  CHECK(curve->residual_sd_mm == Approx(0.884796396144373).epsilon(1e-8));
  CHECK(std::log(curve->gel_time_s) == Approx((0.262323073774029 - 10) / 1002.11681802045).epsilon(1e-8));
  CHECK(*curve->critical_mj_per_cm2 == Approx(4 * curve->gel_time_s));
}

TEST_CASE("linear regression agrees with NIST StRD NoInt1 to 8 digits") {
  // A line through the origin: x = 60 .. 70, y = 130 .. 140.
  std::vector<std::vector<double>> rows;
  std::vector<double> y;
  for (int i = 0; i <= 10; ++i) rows.push_back({60.0 + i}), y.push_back(130.0 + i);
  const auto fit = fit_linear(rows, y);
  REQUIRE(fit);
  CHECK(fit->coefficients[0] == Approx(2.07438016528926).epsilon(1e-12));
  CHECK(fit->standard_errors[0] == Approx(0.165289256198347e-01).epsilon(1e-9));
  CHECK(fit->residual_sd == Approx(3.56753034006338).epsilon(1e-9));
}

TEST_CASE("linear regression agrees with NIST StRD Longley to 8 digits") {
  // Higher difficulty: six nearly dependent columns.
  const double table[16][7] = {
      {60323, 83.0, 234289, 2356, 1590, 107608, 1947},  {61122, 88.5, 259426, 2325, 1456, 108632, 1948},
      {60171, 88.2, 258054, 3682, 1616, 109773, 1949},  {61187, 89.5, 284599, 3351, 1650, 110929, 1950},
      {63221, 96.2, 328975, 2099, 3099, 112075, 1951},  {63639, 98.1, 346999, 1932, 3594, 113270, 1952},
      {64989, 99.0, 365385, 1870, 3547, 115094, 1953},  {63761, 100.0, 363112, 3578, 3350, 116219, 1954},
      {66019, 101.2, 397469, 2904, 3048, 117388, 1955}, {67857, 104.6, 419180, 2822, 2857, 118734, 1956},
      {68169, 108.4, 442769, 2936, 2798, 120445, 1957}, {66513, 110.8, 444546, 4681, 2637, 121950, 1958},
      {68655, 112.6, 482704, 3813, 2552, 123366, 1959}, {69564, 114.2, 502601, 3931, 2514, 125368, 1960},
      {69331, 115.7, 518173, 4806, 2572, 127852, 1961}, {70551, 116.9, 554894, 4007, 2827, 130081, 1962}};
  std::vector<std::vector<double>> rows;
  std::vector<double> y;
  for (const auto& row : table)
    rows.push_back({1, row[1], row[2], row[3], row[4], row[5], row[6]}), y.push_back(row[0]);
  const auto fit = fit_linear(rows, y);
  REQUIRE(fit);
  const double certified[] = {-3482258.63459582, 15.0618722713733,       -0.358191792925910e-01, -2.02022980381683,
                              -1.03322686717359, -0.511041056535807e-01, 1829.15146461355};
  for (std::size_t i = 0; i < 7; ++i) CHECK(fit->coefficients[i] == Approx(certified[i]).epsilon(1e-8));
  CHECK(fit->residual_sd == Approx(304.854073561965).epsilon(1e-8));
}

TEST_CASE("the optimiser agrees with NIST StRD Misra1a to 6 digits, from both certified starts") {
  const double b1 = 2.3894212918e+02, b2 = 5.5015643181e-04, sd1 = 2.7070075241, sd2 = 7.2668688436e-06;
  const double sum_of_squares = 1.2455138894e-01;
  const auto squares = [](const std::vector<double>& logs) {
    double sum = 0;
    for (const auto& point : misra1a) {
      const double off = point.y + std::exp(logs[0]) * std::expm1(-std::exp(logs[1]) * point.x);
      sum += off * off;
    }
    return sum;
  };
  const double variance = sum_of_squares / (14 - 2);
  for (const auto& [start1, start2] : {std::pair{500.0, 0.0001}, std::pair{250.0, 0.0005}}) {
    const auto found = minimise([&](const std::vector<double>& logs) { return squares(logs) / (2 * variance); },
                                {std::log(start1), std::log(start2)}, 0.2);
    INFO(found.stopped << ", " << found.evaluations << " evaluations");
    REQUIRE(found.converged);
    CHECK(std::exp(found.at[0]) == Approx(b1).epsilon(1e-7));
    CHECK(std::exp(found.at[1]) == Approx(b2).epsilon(1e-7));
    CHECK(squares(found.at) == Approx(sum_of_squares).epsilon(1e-8));
    // NIST's deviations come from the linearised problem (J'J), ours from the Hessian: they differ by the residuals'
    // curvature.
    CHECK(std::sqrt(found.covariance[0][0]) * b1 == Approx(sd1).epsilon(0.01));
    CHECK(std::sqrt(found.covariance[1][1]) * b2 == Approx(sd2).epsilon(0.01));
  }
}

TEST_CASE("the working curve gives back the line its depths were made from") {
  std::vector<CureDepthReading> readings;
  for (const double t : {2.0, 4.0, 8.0, 16.0}) readings.push_back({t, 0.12 * std::log(t / 1.3), "", {}});
  const auto curve = fit_working_curve(readings, 3.5);
  REQUIRE(curve);
  CHECK(curve->penetration_depth_mm == Approx(0.12));
  CHECK(curve->gel_time_s == Approx(1.3));
  CHECK(*curve->critical_mj_per_cm2 == Approx(3.5 * 1.3));
  CHECK(curve->residual_sd_mm < 1e-12);
  CHECK_FALSE(fit_working_curve({readings[0], readings[1]}));
  CHECK_FALSE(fit_working_curve({readings[0], readings[0], readings[0]}));
  std::swap(readings[0].depth_mm, readings[3].depth_mm);
  std::swap(readings[1].depth_mm, readings[2].depth_mm);
  const auto falling = fit_working_curve(readings);
  REQUIRE_FALSE(falling);
  CHECK(falling.error().found == "cure depths that do not grow with exposure");
}

TEST_CASE("the standard error of the gel time agrees with the spread over simulated lines") {
  // First-order error propagation against 4000 draws of the same experiment.
  std::uint64_t state = 11;
  const auto unit = [&] {
    state = state * 6364136223846793005u + 1442695040888963407u;
    return (static_cast<double>(state >> 11) + 0.5) * 0x1p-53;
  };
  const auto normal = [&] { return std::sqrt(-2 * std::log(unit())) * std::cos(2 * 3.14159265358979323846 * unit()); };
  double sum = 0, square = 0, se = 0;
  constexpr int draws = 4000;
  for (int i = 0; i < draws; ++i) {
    std::vector<CureDepthReading> readings;
    for (const double t : {2.0, 3.0, 4.0, 6.0, 8.0, 12.0}) {
      readings.push_back({t, 0.12 * std::log(t / 0.8) + 0.005 * normal(), "", {}});
    }
    const auto curve = fit_working_curve(readings);
    REQUIRE(curve);
    sum += std::log(curve->gel_time_s), square += std::pow(std::log(curve->gel_time_s), 2);
    se += curve->gel_time_se_s / curve->gel_time_s;
  }
  const double spread = std::sqrt(square / draws - std::pow(sum / draws, 2));
  CHECK(se / draws == Approx(spread).epsilon(0.06));
}

TEST_CASE("penetration depth from absorbance, figures quoted") {
  // Base-10 absorbance at 405 nm over 93 um, Nordin group, Brigham Young University, 3dprinter_resin_spectra (MIT).
  // Dp = 93 um / (A ln 10), as computed apart from this program.
  const double rows[][2] = {{0.3709, 109}, {0.4284, 94}, {0.1972, 205}, {0.6422, 63}, {0.7539, 54}, {1.2281, 33}};
  for (const auto& [absorbance, depth_um] : rows) {
    CHECK(1000 * optical_depth_mm(absorbance, 0.093) == Approx(depth_um).margin(1));
  }
}

TEST_CASE("penetration depth from the open absorbance table") {
  const auto file = test::shared("resin-absorbance.csv");
  if (!file) return;
  std::ifstream table(*file);
  std::string line;
  std::getline(table, line);
  std::vector<std::string> names;
  std::stringstream header(line);
  for (std::string cell; std::getline(header, cell, ',');) names.push_back(cell);
  const std::map<std::string, double> at_405{{"pr48", 109},        {"plasclear", 94}, {"fslclear", 205},
                                             {"irgacure819", 411}, {"sudanI_01", 97}, {"sudanI_015", 63},
                                             {"sudanI_02", 54},    {"sudanI_04", 33}, {"martius_05", 35}};
  int checked = 0;
  while (std::getline(table, line)) {
    if (line.rfind("405,", 0) != 0) continue;
    std::stringstream row(line);
    std::string cell;
    for (std::size_t column = 0; std::getline(row, cell, ','); ++column) {
      const auto expected = at_405.find(names[column]);
      if (expected == at_405.end()) continue;
      CHECK(1000 * optical_depth_mm(std::stod(cell), 0.093) == Approx(expected->second).margin(1));
      ++checked;
    }
  }
  CHECK(checked == 9);
}
