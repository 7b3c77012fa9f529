// Simulated evenings: many true resins, a few coupons each, read with the errors of a loupe or a ladder, then fitted
// blind.
#include "evening.hpp"

#include <array>
#include <catch2/catch.hpp>

#include "hairline/growth.hpp"
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

// The prior that ties the flat time to the fuse time moves the medians by up to a percent.
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
    CHECK(tally.median(k) == Approx(1).margin(0.025));
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

// Walls and slots of the coupon are wedges, its pins and holes a ladder: taken as sizes they moved the blur by a fifth.
TEST_CASE("500 evenings with wedges, and pins and holes off the coupon's ladder: 90 % ranges hold the truth") {
  Tally tally = simulate(20261128, [](const CureModel& truth, Random& random) {
    ResinRecord record = print_and_read(truth, times(truth, random), Ruler::wedge, random);
    for (BracketReading& reading : record.bracket) {
      reading.thinnest_pin_mm = read_round(pin_limit_mm(truth, reading.exposure_s));
      reading.smallest_hole_mm = read_round(hole_limit_mm(truth, reading.exposure_s));
    }
    return record;
  });
  CHECK(tally.refused <= 2);
  for (std::size_t k = 0; k < 3; ++k) {
    INFO(names[k]);
    CHECK(tally.median(k) == Approx(1).margin(0.03));
    CHECK(tally.coverage(k) >= 0.85);
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

namespace {

// Five coupons from 1.12 to 2.4 bond times, each time a little off an even spacing.
std::vector<double> five_times(const CureModel& truth, Random& random) {
  std::vector<double> list;
  for (int i = 0; i < 5; ++i)
    list.push_back(truth.bond_time_s * 1.12 * std::pow(2.4 / 1.12, (i + random.between(-0.2, 0.2)) / 4));
  return list;
}

// Block of 5 mm and slot of 2 mm by a caliper that errs by 0.01 mm.
void measure_widths(ResinRecord& record, const CureModel& truth, Random& random) {
  for (BracketReading& reading : record.bracket) {
    const double growth = growth_mm(truth, record.layer_height_mm, reading.exposure_s).value();
    reading.block_mm = {5.0, 5 + 2 * growth + 0.01 * random.normal()};
    reading.slot_mm = {2.0, 2 - 2 * growth + 0.01 * random.normal()};
  }
}

// What README's recipe reads beside walls and slots.
void read_the_rest(ResinRecord& record, const CureModel& truth, Random& random) {
  for (BracketReading& reading : record.bracket) {
    reading.thinnest_pin_mm = read_round(pin_limit_mm(truth, reading.exposure_s));
    reading.smallest_hole_mm = read_round(hole_limit_mm(truth, reading.exposure_s));
  }
  measure_widths(record, truth, random);
}

}  // namespace

// The goals of the next cases are the project's own.
TEST_CASE("200 evenings by the recipe: the time to use is within 4 % of bond + fuse time in 90 %") {
  Random random(20261110);
  int near = 0, tried = 0, sound = 0;
  for (int i = 0; i < 200; ++i) {
    const CureModel truth = true_resin(random);
    ResinRecord record = print_and_read(truth, five_times(truth, random), Ruler::wedge, random);
    read_the_rest(record, truth, random);
    const auto report = fit_record(record);
    if (!report) continue;
    ++tried;
    sound += report->weak ? 0 : 1;
    near += std::abs(report->use->exposure_s / even_time_s(truth) - 1) <= 0.04 ? 1 : 0;
  }
  CHECK(tried >= 198);
  CHECK(near >= 180);
  CHECK(sound >= 190);
}

// The times that `record evening` proposes around 2.15 s, and a resin that these suit.
TEST_CASE("200 evenings of one resin at the times of the recipe: within 4 % of bond + fuse time in 90 %") {
  CureModel truth;
  truth.bond_time_s = 1.6, truth.fuse_time_s = 0.55, truth.blur_mm = 0.038, truth.penetration_depth_mm = 0.16;
  Random random(20261114);
  int near = 0;
  for (int i = 0; i < 200; ++i) {
    ResinRecord record = print_and_read(truth, {1.85, 2, 2.15, 2.6, 3.2}, Ruler::wedge, random);
    read_the_rest(record, truth, random);
    const auto report = fit_record(record);
    near += report && std::abs(report->use->exposure_s / even_time_s(truth) - 1) <= 0.04 ? 1 : 0;
  }
  CHECK(near >= 180);
}

TEST_CASE("500 evenings with two coupons: ranges hold the truth, also far out") {
  Random random(20261111);
  int far = 0, inside = 0, tried = 0;
  for (int i = 0; i < evenings; ++i) {
    const CureModel truth = true_resin(random);
    const std::vector<double> two{truth.bond_time_s * 1.12 * random.between(0.95, 1.05),
                                  truth.bond_time_s * 2.4 * random.between(0.9, 1.1)};
    const auto report = fit_record(print_and_read(truth, two, Ruler::wedge, random));
    if (!report) continue;
    ++tried;
    const Estimate& bond = report->parameters[0];
    far += std::abs(std::log(truth.bond_time_s / bond.value)) > 3 * bond.log_sd ? 1 : 0;
    inside += bond.low <= truth.bond_time_s && truth.bond_time_s <= bond.high ? 1 : 0;
  }
  CHECK(far <= tried / 100);  // 0.27 % of a normal
  CHECK(inside >= 0.85 * tried);
  CHECK(inside <= 0.96 * tried);
}

namespace {

// Place and direction of a wrong reading among the ten of five coupons.
struct Wrong {
  bool wall = true;
  std::size_t coupon = 0;
  double off_mm = 0;
};

ResinRecord spoilt(ResinRecord record, const Wrong& wrong) {
  BracketReading& reading = record.bracket[wrong.coupon];
  *(wrong.wall ? reading.thinnest_wall_mm : reading.narrowest_slot_mm) += wrong.off_mm;
  return record;
}

// Whether just that reading is said not to agree, or a pair that cannot both be right is refused by name.
bool is_named(const ResinRecord& record, const Result<FitReport>& report, const Wrong& wrong) {
  if (!report) return true;
  if (report->odd.empty()) return false;
  const Residual& odd = report->residuals[report->odd[0]];
  return odd.exposure_s == record.bracket[wrong.coupon].exposure_s &&
         odd.what.rfind(wrong.wall ? "thinnest wall" : "narrowest slot", 0) == 0;
}

bool is_named(const ResinRecord& record, const Wrong& wrong) {
  return is_named(record, fit_record(spoilt(record, wrong)), wrong);
}

}  // namespace

// The bounds are those of docs/calibration.md, Readings that do not agree, less three standard deviations of the count;
// for the third wall the project's own goal, 75 of 80.
TEST_CASE(
    "a reading 0.05 mm off among ten sizes is named as often as its place allows; good evenings are not accused") {
  const std::vector<std::pair<Wrong, double>> least{
      {{true, 1, 0.05}, 0.87},  {{true, 2, 0.05}, 0.9375}, {{true, 3, 0.05}, 0.91},  {{true, 4, 0.05}, 0.92},
      {{false, 0, 0.05}, 0.82}, {{false, 0, -0.05}, 0.54}, {{false, 4, 0.05}, 0.64}, {{false, 4, -0.05}, 0.86}};
  Random random(20261112);
  std::vector<int> named(least.size()), tried(least.size());
  int accused = 0;
  for (int i = 0; i < 240; ++i) {
    const CureModel truth = true_resin(random);
    const ResinRecord record = print_and_read(truth, five_times(truth, random), Ruler::wedge, random);
    const auto clean = fit_record(record);
    accused += clean && !clean->odd.empty() ? 1 : 0;
    for (std::size_t k = 0; k < least.size(); ++k) {
      const Wrong& wrong = least[k].first;
      if (!wrong.wall && *record.bracket[wrong.coupon].narrowest_slot_mm + wrong.off_mm < 0.01) continue;
      ++tried[k];
      named[k] += is_named(record, wrong) ? 1 : 0;
    }
  }
  for (std::size_t k = 0; k < least.size(); ++k) {
    INFO("coupon " << least[k].first.coupon + 1 << ", " << least[k].first.off_mm << " mm");
    CHECK(named[k] >= least[k].second * tried[k]);
  }
  CHECK(accused <= 6);  // 2 of 80
}

TEST_CASE("with a wrong reading left out the ranges hold the truth in 85 to 95 %") {
  Random random(20261116);
  FitSettings settings;
  settings.leave_out_odd = true;
  std::array<int, 3> inside{};
  int left_out = 0;
  for (int i = 0; i < 300; ++i) {
    const CureModel truth = true_resin(random);
    const ResinRecord record = print_and_read(truth, five_times(truth, random), Ruler::wedge, random);
    const Wrong wrong{i % 2 == 0, 2, 0.05};
    const auto report = fit_record(spoilt(record, wrong), settings);
    if (!report || !is_named(record, report, wrong)) continue;
    ++left_out;
    const double values[] = {truth.bond_time_s, truth.fuse_time_s, truth.blur_mm};
    for (std::size_t k = 0; k < 3; ++k)
      inside[k] += report->parameters[k].low <= values[k] && values[k] <= report->parameters[k].high ? 1 : 0;
  }
  CHECK(left_out >= 180);  // the others are refused by name, or not named
  for (const int count : inside) {
    CHECK(count >= 0.85 * left_out);
    CHECK(count <= 0.95 * left_out);
  }
}

TEST_CASE("by the recipe a wall 0.05 mm too thick is named, but for the one at the shortest time") {
  Random random(20261117);
  int named = 0, accused = 0;
  for (int i = 0; i < 80; ++i) {
    const CureModel truth = true_resin(random);
    ResinRecord record = print_and_read(truth, five_times(truth, random), Ruler::wedge, random);
    read_the_rest(record, truth, random);
    const auto clean = fit_record(record);
    accused += clean && !clean->odd.empty() ? 1 : 0;
    named += is_named(record, {true, 1 + static_cast<std::size_t>(i % 4), 0.05}) ? 1 : 0;
  }
  CHECK(named >= 68);  // 93 %, less three standard deviations
  CHECK(accused <= 2);
}

TEST_CASE("a slot read far too wide or typed tenfold at the longest time is named, not taken for another blur") {
  Random random(20261115);
  int named = 0;
  for (int i = 0; i < 20; ++i) {
    const CureModel truth = true_resin(random);
    const ResinRecord record = print_and_read(truth, five_times(truth, random), Ruler::wedge, random);
    named += is_named(record, {false, 4, 0.15}) ? 1 : 0;
    named += is_named(record, {false, 4, 9 * *record.bracket[4].narrowest_slot_mm}) ? 1 : 0;
  }
  CHECK(named == 40);
}

TEST_CASE("300 evenings with caliper widths: fuse time and blur get surer and keep their coverage") {
  Random random(20261113);
  std::array<int, 3> inside{};
  int tried = 0;
  double with = 0, without = 0;
  for (int i = 0; i < 300; ++i) {
    const CureModel truth = true_resin(random);
    ResinRecord record = print_and_read(truth, five_times(truth, random), Ruler::wedge, random);
    const auto before = fit_record(record);
    measure_widths(record, truth, random);
    const auto after = fit_record(record);
    if (!before || !after) continue;
    ++tried;
    without += before->parameters[1].log_sd, with += after->parameters[1].log_sd;
    const double values[] = {truth.bond_time_s, truth.fuse_time_s, truth.blur_mm};
    for (std::size_t k = 0; k < 3; ++k)
      inside[k] += after->parameters[k].low <= values[k] && values[k] <= after->parameters[k].high ? 1 : 0;
  }
  CHECK(with < 0.8 * without);
  for (const int count : inside) {
    CHECK(count >= 0.85 * tried);
    CHECK(count <= 0.95 * tried);
  }
}
