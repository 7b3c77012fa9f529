// Simulated evenings: many true resins, a few coupons each, read with the errors of a loupe or a ladder, then fitted
// blind.
#include "evening.hpp"

#include <array>
#include <catch2/catch.hpp>

#include "hairline/result.hpp"

using namespace hairline;
using namespace evening;

namespace {

constexpr int evenings = 500;

struct Tally {
  std::array<std::vector<double>, 4> ratios;
  std::array<int, 4> inside{};
  int refused = 0, converged = 0, lorentzian = 0;
  double median(std::size_t i) {
    auto& list = ratios[i];
    std::nth_element(list.begin(), list.begin() + static_cast<std::ptrdiff_t>(list.size() / 2), list.end());
    return list[list.size() / 2];
  }
  double coverage(std::size_t i) const { return inside[i] / static_cast<double>(ratios[i].size()); }
};

template <class Print>
Tally simulate(std::uint64_t seed, Print print) {
  Random random(seed);
  Tally tally;
  for (int i = 0; i < evenings; ++i) {
    const CureModel truth = true_resin(random);
    const auto report = fit_record(print(truth, random));
    if (!report) {
      ++tally.refused;
      continue;
    }
    tally.converged += report->converged ? 1 : 0;
    tally.lorentzian += report->model.blur_shape == BlurShape::lorentzian ? 1 : 0;
    const double values[] = {truth.bond_time_s, truth.fuse_time_s, truth.blur_mm, truth.penetration_depth_mm};
    for (std::size_t k = 0; k < 4; ++k) {
      const Estimate& e = report->parameters[k];
      tally.ratios[k].push_back(e.value / values[k]);
      tally.inside[k] += e.low <= values[k] && values[k] <= e.high ? 1 : 0;
    }
  }
  return tally;
}

const char* names[] = {"bond time", "fuse time", "blur", "penetration depth"};

}  // namespace

TEST_CASE("500 evenings with wedges: medians within 2 %, 90 % ranges hold the truth in 85 to 95 %") {
  Tally tally = simulate(20261107, [](const CureModel& truth, Random& random) {
    return print_and_read(truth, times(truth, random), Ruler::wedge, random);
  });
  CHECK(tally.refused <= 2);  // 3.5 standard deviations of the reading error do happen
  CHECK(tally.converged >= evenings - 2 - tally.refused);
  CHECK(tally.lorentzian <= 5);  // the truth is gaussian
  for (std::size_t k = 0; k < 3; ++k) {
    INFO(names[k]);
    CHECK(tally.median(k) == Approx(1).margin(0.02));
    CHECK(tally.coverage(k) >= 0.85);
    CHECK(tally.coverage(k) <= 0.95);
  }
}

TEST_CASE("500 evenings with wedges and flat slots: the penetration depth too") {
  Tally tally = simulate(20261108, [](const CureModel& truth, Random& random) {
    auto record = print_and_read(truth, times(truth, random), Ruler::wedge, random);
    for (auto& reading : record.bracket) {
      reading.narrowest_flat_slot_mm = read(flat_slot_limit_mm(truth, reading.exposure_s), Ruler::wedge, random);
    }
    return record;
  });
  CHECK(tally.refused <= 2);
  for (std::size_t k = 0; k < 4; ++k) {
    INFO(names[k]);
    CHECK(tally.median(k) == Approx(1).margin(0.02));
    CHECK(tally.coverage(k) >= 0.85);
    CHECK(tally.coverage(k) <= 0.95);
  }
}

TEST_CASE("500 evenings with R10 ladders: medians within 6 %") {
  Tally tally = simulate(20261109, [](const CureModel& truth, Random& random) {
    return print_and_read(truth, times(truth, random), Ruler::ladder, random);
  });
  CHECK(tally.refused == 0);
  for (std::size_t k = 0; k < 3; ++k) {
    INFO(names[k]);
    CHECK(tally.median(k) == Approx(1).margin(0.06));
    CHECK(tally.coverage(k) >= 0.85);  // a step says less than it seems: these ranges are on the wide side
  }
}

TEST_CASE("a ladder is known by a zero reading error, or by its sizes where no error is stated") {
  Random random(5);
  const CureModel truth = true_resin(random);
  ResinRecord marked = print_and_read(truth, times(truth, random), Ruler::ladder, random);
  ResinRecord zero = marked, silent = marked;
  for (auto& reading : zero.bracket) reading.ladder = false, reading.reading_error_mm = 0;
  for (auto& reading : silent.bracket) reading.ladder = false;
  const auto by_mark = fit_record(marked), by_zero = fit_record(zero), by_sizes = fit_record(silent);
  REQUIRE(by_mark);
  REQUIRE(by_zero);
  REQUIRE(by_sizes);
  CHECK(by_zero->model.bond_time_s == by_mark->model.bond_time_s);
  CHECK(by_sizes->model.blur_mm == by_mark->model.blur_mm);
}

TEST_CASE("lorentzian blur is found where it is the truth and readings are many and fine") {
  Random random(77);
  int found = 0;
  constexpr int tries = 20;
  for (int i = 0; i < tries; ++i) {
    CureModel truth = true_resin(random);
    truth.fuse_time_s = 0.3 * truth.bond_time_s;
    truth.blur_mm = 0.02;
    truth.blur_shape = BlurShape::lorentzian;
    auto record = print_and_read(truth, times(truth, random), Ruler::wedge, random);
    for (auto& reading : record.bracket) {
      reading.reading_error_mm = 0.002;
      const double t = reading.exposure_s;
      const auto fine = [&](double limit) {
        return limit < 0.6 ? std::optional<double>(std::max(0.005, limit + 0.002 * random.normal())) : std::nullopt;
      };
      reading.thinnest_wall_mm = fine(wall_limit_mm(truth, t));
      reading.narrowest_slot_mm = fine(slot_limit_mm(truth, t));
      reading.thinnest_pin_mm = fine(pin_limit_mm(truth, t));
      reading.smallest_hole_mm = fine(hole_limit_mm(truth, t));
    }
    const auto report = fit_record(record);
    if (report && report->model.blur_shape == BlurShape::lorentzian) ++found;
  }
  CHECK(found >= tries - 2);
}
