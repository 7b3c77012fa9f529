// What several prints say of a record, on made-up evenings whose truth is known (docs/calibration.md, What came out).
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "hairline/fit.hpp"
#include "hairline/outcome.hpp"
#include "support/random.hpp"

using namespace hairline;
using hairline::test::Random;

namespace {

double normal_share(double z) {
  return 0.5 * std::erfc(-z / std::sqrt(2.0));
}

// Box and Muller 1958.
double normal(Random& random) {
  return std::sqrt(-2 * std::log(1 - random.unit())) * std::cos(2 * 3.14159265358979 * random.unit());
}

ResinRecord record() {
  ResinRecord record;
  record.file = "harbour-grey.json";
  record.fit.emplace();
  record.fit->bond_time_s = 1.6;
  record.fit->fuse_time_s = 0.9;
  record.fit->blur_mm = 0.04;
  record.fit->penetration_depth_mm = 0.16;
  record.fit->valid_from_s = 1.8;
  record.fit->valid_to_s = 3.4;
  return record;
}

Prediction prediction(Fate fate, double chance, double log_sd) {
  Prediction one;
  one.id = 1;
  one.fate = fate;
  one.state = chance >= 0.5 ? State::will : State::may;
  one.chance = chance;
  one.critical_exposure_s = 2.5;
  one.log_sd = log_sd;
  return one;
}

Outcome print() {
  Outcome outcome;
  outcome.record = {"records/harbour-grey.json", "harbour grey", "", 0.04};
  return outcome;
}

// How a world makes its prints: how far its dose is off, and of what the spread of a detail is made.
struct World {
  std::optional<double> off = {};  // ln of the true dose over the record's; unset: drawn by the record's spread
  double record_log_sd = 0;
  bool by_fate = false;      // it is drawn for parts and gaps apart
  double print_log_sd = 0;   // drawn for each print
  double detail_log_sd = 0;  // drawn for each detail
  double log_sd() const { return std::hypot(record_log_sd, print_log_sd, detail_log_sd); }
};

// Details whose limits lie anywhere around the time; those of a chance under 5 % are not listed.
Outcome print_in(const World& world, double vanish_off, double fuse_off, Random& random) {
  Outcome outcome = print();
  const double this_print = world.print_log_sd * normal(random);
  for (std::uint32_t i = random.between(2, 12); i > 0; --i) {
    const Fate fate = random.chance(0.5) ? Fate::vanish : Fate::fuse;
    const double margin = random.between_real(-0.25, 0.25);  // over it, the detail flips
    const double off = (fate == Fate::vanish ? -vanish_off : fuse_off) + (fate == Fate::vanish ? -1 : 1) * this_print +
                       world.detail_log_sd * normal(random);
    const double chance = normal_share(margin / world.log_sd());
    const bool lost = margin + off > 0;
    if (chance >= 0.05) {
      outcome.predictions.push_back(prediction(fate, chance, world.log_sd()));
      outcome.predictions.back().seen = lost;
    } else if (lost) {
      outcome.others.push_back({fate, ""});
    }
  }
  outcome.fine = false;
  return outcome;
}

// After how many prints of a season, at most `most`, a new coupon is said to be worth it; `most` + 1: never.
std::uint32_t said_after(const World& world, std::uint32_t most, Random& random) {
  const double vanish = world.off.value_or(world.record_log_sd * normal(random));
  const double fuse = world.by_fate ? world.record_log_sd * normal(random) : vanish;
  std::vector<Outcome> prints;
  while (prints.size() < most) {
    prints.push_back(print_in(world, vanish, fuse, random));
    if (weigh_outcomes(record(), prints).new_coupon != NewCoupon::no) break;
    if (prints.size() == most) return most + 1;
  }
  return static_cast<std::uint32_t>(prints.size());
}

double share_said(const World& world, std::uint32_t prints, int seasons) {
  Random random(20);
  int said = 0;
  for (int i = 0; i < seasons; ++i) said += said_after(world, prints, random) <= prints ? 1 : 0;
  return static_cast<double>(said) / seasons;
}

// Of as many seasons, the one in the middle.
std::uint32_t median_after(const World& world, int seasons) {
  Random random(20);
  std::vector<std::uint32_t> after;
  for (int i = 0; i < seasons; ++i) after.push_back(said_after(world, 30, random));
  std::nth_element(after.begin(), after.begin() + seasons / 2, after.end());
  return after[static_cast<std::size_t>(seasons) / 2];
}

}  // namespace

TEST_CASE("with true predictions a new coupon is asked for in at most 2 of 100 seasons of ten prints") {
  CHECK(share_said({.record_log_sd = 0.045, .print_log_sd = 0.05}, 10, 1000) <= 0.02);
  CHECK(share_said({.record_log_sd = 0.045, .by_fate = true, .print_log_sd = 0.05}, 10, 1000) <= 0.02);
  CHECK(share_said({.record_log_sd = 0.045, .detail_log_sd = 0.05}, 10, 1000) <= 0.02);
  CHECK(share_said({.record_log_sd = 0.03, .print_log_sd = 0.035, .detail_log_sd = 0.035}, 10, 1000) <= 0.02);
  CHECK(share_said({.detail_log_sd = 0.067}, 10, 1000) <= 0.02);  // each detail by its chance alone
}

TEST_CASE("a dose that is 15 % off is found out after about a handful of prints") {
  for (const double record_log_sd : {0.02, 0.03, 0.045}) {
    const World stronger{.off = std::log(1.15), .record_log_sd = record_log_sd, .print_log_sd = 0.05};
    const World weaker{.off = std::log(0.85), .record_log_sd = record_log_sd, .print_log_sd = 0.05};
    CHECK(median_after(stronger, 301) <= 8);
    CHECK(median_after(weaker, 301) <= 6);
  }
  CHECK(median_after({.off = std::log(1.3), .record_log_sd = 0.045, .print_log_sd = 0.05}, 301) <= 3);
}

TEST_CASE("how far the dose is off is found, with a range that holds it") {
  Random random(7);
  int held = 0;
  double sum = 0;
  for (int season = 0; season < 400; ++season) {
    const World world{.record_log_sd = 0.05, .print_log_sd = 0.05};
    const double off = world.record_log_sd * normal(random);
    std::vector<Outcome> prints;
    for (int i = 0; i < 8; ++i) prints.push_back(print_in(world, off, off, random));
    const auto dose = weigh_outcomes(record(), prints).dose.value();
    held += dose.low <= off && off <= dose.high ? 1 : 0;
    sum += dose.log - off;
  }
  CHECK(held >= 340);  // 360 of 400 by the definition of a 90 % range
  CHECK(held <= 385);
  CHECK(std::abs(sum / 400) < 0.005);
}

TEST_CASE("the counts are those of a Poisson binomial") {  // closed form
  Outcome one = print(), two = print(), other = print();
  one.predictions = {prediction(Fate::vanish, 0.9, 0.06), prediction(Fate::fuse, 0.2, 0.06),
                     prediction(Fate::fuse, 0.4, 0.06)};
  one.predictions[0].seen = true;
  one.predictions[1].seen = false;
  two.predictions = {prediction(Fate::vanish, 0.6, 0.06)};
  two.predictions[0].seen = false;
  two.others = {{Fate::fuse, "the scuppers"}};
  two.came_off = true;
  other.record.file = "old-lamp.json";
  const OutcomeSummary summary = weigh_outcomes(record(), {one, two, other});
  CHECK(summary.prints == 2);
  CHECK(summary.came_off == 1);
  CHECK(summary.unforeseen == 1);
  CHECK(summary.will.looked_at == 2);
  CHECK(summary.will.seen == 1);
  CHECK(summary.will.expected == Approx(1.5));
  CHECK(summary.will.spread == Approx(std::sqrt(0.9 * 0.1 + 0.6 * 0.4)));
  CHECK(summary.may.looked_at == 1);
  CHECK(summary.may.expected == Approx(0.2));
}

TEST_CASE("nothing looked at says nothing of the dose, and one detail little") {
  CHECK_FALSE(weigh_outcomes(record(), {print()}).dose);
  Outcome one = print();
  one.predictions = {prediction(Fate::vanish, 0.5, 0.0583)};  // 3 % of the record, 5 % of the process
  one.predictions[0].seen = true;
  const OutcomeSummary lost = weigh_outcomes(record(), {one});
  // The mean of a normal of spread s, known to be under another of spread u: -s^2 / sqrt(s^2 + u^2) sqrt(2 / pi).
  const double others = 0.05 * 0.05 + 0.03 * 0.03;
  CHECK(lost.dose->log == Approx(-0.0009 / std::sqrt(0.0009 + others) * 0.798).margin(0.001));
  one.predictions[0].seen = false;
  CHECK(weigh_outcomes(record(), {one}).dose->log == Approx(-lost.dose->log).margin(1e-6));
  CHECK(lost.new_coupon == NewCoupon::no);
}

TEST_CASE("a coupon is asked for at the time that makes up for the dose, and after losses nobody foretold") {
  std::vector<Outcome> prints(8, print());
  for (Outcome& one : prints) {
    one.predictions = {prediction(Fate::vanish, 0.99, 0.06), prediction(Fate::vanish, 0.95, 0.06)};
    for (Prediction& detail : one.predictions) detail.seen = false;
  }
  const OutcomeSummary off = weigh_outcomes(record(), prints);
  CHECK(off.new_coupon == NewCoupon::dose);
  const double use = time_to_use(record())->exposure_s;
  CHECK(*off.coupon_s == Approx(use / std::exp(off.dose->log)).margin(0.026));
  CHECK(*off.coupon_s < use);
  ResinRecord fitted_anew = record();
  fitted_anew.fit->blur_mm = 0.0412;
  const OutcomeSummary earlier = weigh_outcomes(fitted_anew, prints);
  CHECK((earlier.prints == 0 && earlier.earlier == 8 && earlier.new_coupon == NewCoupon::no));

  std::vector<Outcome> unforeseen(3, print());
  for (Outcome& one : unforeseen) one.others = {{Fate::vanish, "a bollard"}};
  CHECK(weigh_outcomes(record(), unforeseen).new_coupon == NewCoupon::unforeseen);
  unforeseen.resize(7, print());  // three of seven may be chance
  CHECK(weigh_outcomes(record(), unforeseen).new_coupon == NewCoupon::no);
  std::vector<Outcome> loose(2, print());
  for (Outcome& one : loose) one.came_off = true;
  CHECK(weigh_outcomes(record(), loose).new_coupon == NewCoupon::came_off);
}
