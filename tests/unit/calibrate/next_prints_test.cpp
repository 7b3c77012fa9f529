// What `next_prints` names on random records: two to five coupons around a guess, read by wedge, by ladder, or only
// looked at. The bounds are those of docs/calibration.md, Which times to print next.
#include <catch2/catch.hpp>
#include <cmath>

#include "evening.hpp"
#include "hairline/growth.hpp"

using namespace hairline;
using namespace evening;

namespace {

enum class Kind { wedge, ladder, looks };

struct Printed {
  CureModel truth;
  ResinRecord record;  // fitted
};

Look look_at(double exposure_s, const CureModel& truth) {
  const double place = std::log(exposure_s / even_time_s(truth));
  if (place < -0.15) return Look::missing;
  if (place < -0.05) return Look::under;
  if (place < -0.02) return Look::slightly_under;
  if (place < 0.02) return Look::crisp;
  return place < 0.06 ? Look::slightly_over : Look::over;
}

std::vector<double> times_around_a_guess(const CureModel& truth, Random& random) {
  const double guess_s = even_time_s(truth) * random.log_between(0.8, 1.25);
  const int count = 2 + static_cast<int>(random.unit() * 4);
  std::vector<double> list;
  for (int i = 0; i < count; ++i)
    list.push_back(std::round(20 * guess_s * 0.85 * std::pow(1.5 / 0.85, i / (count - 1.0))) / 20);
  return list;
}

// None where nothing was to be read, or what was read is refused.
std::optional<Printed> print_around_a_guess(Kind kind, Random& random) {
  Printed made{true_resin(random), {}};
  const Ruler ruler = kind == Kind::ladder ? Ruler::ladder : Ruler::wedge;
  made.record = print_and_read(made.truth, times_around_a_guess(made.truth, random), ruler, random);
  for (BracketReading& one : made.record.bracket) {
    const double exposure_s = one.exposure_s;
    if (kind != Kind::looks) continue;
    one = {};
    one.exposure_s = exposure_s;
    one.look = look_at(exposure_s, made.truth);
  }
  std::erase_if(made.record.bracket,
                [](const BracketReading& one) { return !one.thinnest_wall_mm && !one.narrowest_slot_mm && !one.look; });
  const auto report = fit_record(made.record);
  if (!report) return std::nullopt;
  apply_fit(made.record, *report, "2026-11-25");
  return made;
}

bool printed_at(const ResinRecord& record, double exposure_s) {
  const auto there = [&](const BracketReading& one) { return one.exposure_s == exposure_s; };
  return std::any_of(record.bracket.begin(), record.bracket.end(), there);
}

void expect_new_print(const ResinRecord& record, double t) {
  const CureModel& model = *record.fit;
  CHECK(t > model.bond_time_s);
  if (shortest_stood_s(record)) CHECK(slot_limit_mm(model, t) <= 1.25 * even_size_mm(model) + 1e-6);
  for (const BracketReading& one : record.bracket) CHECK(std::abs(std::log(t / one.exposure_s)) >= 0.1 - 1e-6);
}

void expect_sensible(const ResinRecord& record, const std::vector<NextPrint>& plan) {
  for (std::size_t i = 0; i < plan.size(); ++i) {
    const NextPrint& one = plan[i];
    CHECK(std::lround(100 * one.log_sd_after) < std::lround(100 * one.log_sd_before));
    CHECK(printed_at(record, one.exposure_s) != one.read.empty());
    if (one.read.empty()) expect_new_print(record, one.exposure_s);
    for (std::size_t k = 0; k < i; ++k) {
      CHECK(plan[k].exposure_s != one.exposure_s);
      CHECK((plan[k].read.empty() <= one.read.empty()));  // what is printed comes first
      if (plan[k].read.empty()) CHECK(std::abs(std::log(one.exposure_s / plan[k].exposure_s)) >= 0.1 - 1e-6);
    }
  }
}

}  // namespace

TEST_CASE("900 random records: planned times are apart, bracket the time to use, and never repeat") {
  Random random(20261115);
  int weak = 0, fresh = 0;
  for (int i = 0; i < 900; ++i) {
    const auto made = print_around_a_guess(static_cast<Kind>(i % 3), random);
    if (!made) continue;
    const auto plan = next_prints(made->record);
    REQUIRE(plan);
    INFO("record " << i << ", bond time " << made->record.fit->bond_time_s);
    expect_sensible(made->record, *plan);
    if (weakness(made->record).empty()) continue;
    ++weak;
    CHECK_FALSE(plan->empty());  // a weak record always hears what would help
    for (const NextPrint& one : *plan) fresh += one.read.empty() ? 1 : 0;
  }
  CHECK(weak > 500);
  CHECK(fresh > 200);
}

TEST_CASE("pins, holes and caliper widths on a coupon that is printed are worth what the plan promises") {
  Random random(20261116);
  std::vector<double> ratios;
  for (int i = 0; i < 150; ++i) {
    auto made = print_around_a_guess(Kind::wedge, random);
    if (!made) continue;
    const auto plan = next_prints(made->record);
    REQUIRE(plan);
    if (plan->empty() || plan->front().read.find("width of the block") == std::string::npos) continue;
    const CureModel& truth = made->truth;
    const NextPrint& first = plan->front();
    for (BracketReading& one : made->record.bracket) {
      if (one.exposure_s != first.exposure_s) continue;
      const double growth = growth_mm(truth, made->record.layer_height_mm, one.exposure_s).value();
      one.thinnest_pin_mm = read(pin_limit_mm(truth, one.exposure_s), Ruler::wedge, random);
      one.smallest_hole_mm = read(hole_limit_mm(truth, one.exposure_s), Ruler::wedge, random);
      one.block_mm = {5.0, 5 + 2 * growth + 0.01 * random.normal()};
      one.slot_mm = {2.0, 2 - 2 * growth + 0.01 * random.normal()};
    }
    const auto report = fit_record(made->record);
    if (!report) continue;
    const Window w = window(report->model, even_size_mm(report->model));
    ratios.push_back(std::sqrt((w.from_log_sd * w.from_log_sd + w.to_log_sd * w.to_log_sd) / 2) / first.log_sd_after);
  }
  REQUIRE(ratios.size() > 60);
  std::sort(ratios.begin(), ratios.end());
  CHECK(ratios[ratios.size() / 2] == Approx(1.1).margin(0.25));  // linearised, so it promises a little too much
}
