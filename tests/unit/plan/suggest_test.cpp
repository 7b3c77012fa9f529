// Window, safer time, conflict and needed changes from contenders whose critical exposures are given: design 6.9, and
// the closed forms of 6.10 (wall 2 sqrt2 s erfinv(bond / t), slot 2 sqrt2 s erfinv(1 - fuse / t), flat slot Dp ln(t /
// fuse)).
#include <catch2/catch.hpp>
#include <cmath>

#include "support.hpp"

using namespace hairline;
using namespace hairline::plan_test;

TEST_CASE("suggest: the window ends where the first avoidable contender flips") {
  const Suggestion s = suggest_for({}, {vanishing(1.7), vanishing(2.05), fusing(2.9), fusing(3.5), flat(3.1)});
  CHECK_FALSE(s.conflict);
  REQUIRE(s.window_s.has_value());
  CHECK((*s.window_s)[0] == Approx(2.05));
  CHECK((*s.window_s)[1] == Approx(2.9));
  // Equal margins in log time: sqrt(2.05 * 2.9) = 2.438, rounded to 0.05 s.
  CHECK(s.exposure_s == Approx(2.45));
  CHECK_FALSE(s.outside_range);
  CHECK(s.changes.empty());
}

TEST_CASE("suggest: rounding to 0.05 s never leaves a window or its middle") {
  for (const auto& [from, to] : std::vector<std::pair<double, double>>{
           {2.06, 2.09}, {2.011, 2.019}, {2.2, 2.9}, {1.31, 1.34}, {1.5, 4.5}, {3.3, 3.31}, {1.4, 2.2}, {1.05, 1.2}}) {
    const Suggestion s = suggest_for({}, {vanishing(from), fusing(to)});
    CAPTURE(from, to, s.exposure_s);
    CHECK_FALSE(s.conflict);
    CHECK(s.exposure_s > from);
    CHECK(s.exposure_s < to);
    CHECK(std::abs(std::log(s.exposure_s / std::sqrt(from * to))) < 0.02);
  }
}

TEST_CASE("suggest: with nothing at risk the window is the record's range") {
  const Suggestion s = suggest_for({}, {});
  REQUIRE(s.window_s.has_value());
  CHECK((*s.window_s)[0] == Approx(1));
  CHECK((*s.window_s)[1] == Approx(5));
  CHECK_FALSE(s.conflict);
  CHECK(s.changes.empty());
  CHECK_FALSE(s.text.empty());
}

TEST_CASE("suggest: what is lost at every time in the range does not narrow the window, but must change") {
  // Lost up to 7 s, and filled from 0.8 s on: the record covers 1 to 5 s.
  const Suggestion s = suggest_for({}, {vanishing(7), fusing(0.8), vanishing(2), fusing(3.125)});
  CHECK_FALSE(s.conflict);
  CHECK(s.exposure_s == Approx(2.5));
  REQUIRE(s.changes.size() == 2);
  for (const Change& change : s.changes) {
    const double limit = change.fate == Fate::vanish ? wall_limit_mm(model(), 2.5) : slot_limit_mm(model(), 2.5);
    CHECK(change.needed_mm == Approx(limit).epsilon(0.001));
    CHECK(change.needed_px == Approx((limit - change.width_mm) / 0.05).epsilon(0.001));
  }
}

TEST_CASE("suggest: no window is a conflict, with what each detail needs at the time that loses least") {
  // Two walls against one slot: it is the slot that is given up.
  const Suggestion s = suggest_for({}, {vanishing(3), vanishing(3.1), fusing(2)});
  CHECK(s.conflict);
  CHECK_FALSE(s.window_s.has_value());
  CHECK(s.exposure_s > 3.1);
  REQUIRE(s.changes.size() >= 1);
  bool slot = false;
  for (const Change& change : s.changes) {
    if (change.fate != Fate::fuse) continue;
    slot = true;
    CHECK(change.needed_mm == Approx(slot_limit_mm(model(), s.exposure_s)).epsilon(0.001));
    CHECK(change.needed_mm > change.width_mm);
  }
  CHECK(slot);
  CHECK_FALSE(s.modelling.empty());
  CHECK(s.text.find("No exposure") != std::string::npos);
}

TEST_CASE("suggest: in a conflict the time has the fewest expected losses of all multiples of 0.05 s") {
  const std::vector<Contender> contenders{vanishing(3, 0.1), vanishing(2.6, 0.08), fusing(2, 0.12), flat(2.4, 0.05),
                                          fusing(2.8, 0.05)};
  const Suggestion s = suggest_for({}, contenders);
  REQUIRE(s.conflict);
  const auto losses = [&](double t) {
    double sum = 0;
    for (const Contender& c : contenders) {
      const double beyond = std::log(c.critical_exposure_s / t) * (c.fate == Fate::vanish ? 1 : -1);
      sum += 0.5 * std::erfc(-beyond / c.log_sd / std::sqrt(2.0));
    }
    return sum;
  };
  // A hundredth of a detail counts as the same; of such times the one nearest to the conflict is taken.
  for (double t = 1; t < 5.01; t += 0.05) CHECK(losses(s.exposure_s) <= losses(t) + 0.0101);
}

TEST_CASE("suggest: a conflict is not driven further away than it has to be") {
  const Suggestion s = suggest_for({}, {vanishing(3), vanishing(3.1), fusing(2)});
  REQUIRE(s.conflict);
  // Phi(-2.6) is under 0.005: 2.6 spreads of 5 % beyond 3.1 s are 3.53 s, and one more step.
  CHECK(s.exposure_s < 3.6);
}

TEST_CASE("suggest: layers with a time of their own need what the closed form says at that time") {
  // An exception gives these layers 0.8 times the normal exposure: their critical normal exposures are longer by 1 /
  // 0.8.
  Job job;
  job.factor = 0.8;
  Contender wall = vanishing(2.4), slot = fusing(2.2);
  wall.critical_exposure_s /= 0.8, slot.critical_exposure_s /= 0.8;
  const Suggestion s = suggest_for(job, {wall, slot, slot});
  REQUIRE(s.conflict);
  REQUIRE_FALSE(s.changes.empty());
  for (const Change& change : s.changes) {
    const double at_s = 0.8 * s.exposure_s;
    const double limit = change.fate == Fate::vanish ? wall_limit_mm(model(), at_s) : slot_limit_mm(model(), at_s);
    CHECK(change.needed_mm == Approx(limit).epsilon(0.001));
  }
}

TEST_CASE("suggest: a wall an even number of pixels wide needs what any straight wall needs") {
  // Its brightest pixel lies half a pixel beside the middle: (erf((w + p) / q) + erf((w - p) / q)) / 2, q = 2 sqrt2 s.
  const double q = 2 * std::sqrt(2.0) * 0.06;
  const double share = 0.5 * (std::erf(0.15 / q) + std::erf(0.05 / q));
  Contender wall = vanishing(2), slot = fusing(2);
  wall.width_mm = slot.width_mm = 0.1;
  wall.critical_exposure_s = 1.6 / share, slot.critical_exposure_s = 0.55 / (1 - share);
  const Suggestion for_walls = suggest_for({}, {wall, wall, slot});
  REQUIRE(for_walls.conflict);
  REQUIRE(for_walls.changes.size() == 1);
  CHECK(for_walls.changes[0].needed_mm == Approx(slot_limit_mm(model(), for_walls.exposure_s)).epsilon(0.001));
  const Suggestion for_slots = suggest_for({}, {wall, fusing(2.2), fusing(2.2)});
  REQUIRE(for_slots.conflict);
  REQUIRE(for_slots.changes.size() == 1);
  CHECK(for_slots.changes[0].needed_mm == Approx(wall_limit_mm(model(), for_slots.exposure_s)).epsilon(0.001));
}

TEST_CASE("suggest: a flat gap needs the height of the closed form") {
  const Suggestion s = suggest_for({}, {vanishing(3), vanishing(3.1), flat(2)});
  REQUIRE(s.conflict);
  bool found = false;
  for (const Change& change : s.changes) {
    if (!change.flat) continue;
    found = true;
    CHECK(change.needed_mm == Approx(0.16 * std::log(s.exposure_s / 0.55)).epsilon(0.001));
  }
  CHECK(found);
  bool turned = false;
  for (const std::string& lever : s.slicing) turned = turned || lever.find("Turn") != std::string::npos;
  CHECK(turned);
}

TEST_CASE("suggest: another layer height is named only where it opens the window") {
  // Thinner layers bond sooner and, in tall gaps, let more light settle. At 0.04 mm: bond x exp(-0.01 / 0.16) = 0.939,
  // fuse x exp(-0.005 / 0.16) (1 - exp(-0.04 / 0.16)) / (1 - exp(-0.05 / 0.16)) = 0.799: a wall and a slot come no
  // nearer. At 0.1 mm: bond x 1.367, fuse x 1.169 x 1.732 = 2.025. So thicker layers open a window for a wall at 2.1
  // and a slot at 2.
  const Suggestion opened = suggest_for({}, {vanishing(2.1), vanishing(2.05), fusing(2)});
  REQUIRE(opened.conflict);
  REQUIRE(opened.layer_height_mm.has_value());
  CHECK(*opened.layer_height_mm > 0.05);
  const Suggestion never = suggest_for({}, {vanishing(4.9), vanishing(4.8), fusing(1.1)});
  REQUIRE(never.conflict);
  CHECK_FALSE(never.layer_height_mm.has_value());
  CHECK_FALSE(suggest_for({}, {vanishing(2), fusing(3)}).layer_height_mm.has_value());
}

TEST_CASE("suggest: times of a sweep rise, hold both ends, and count what flips") {
  Job job;
  job.sweep = {2, 3, 5};
  const Suggestion s = suggest_for(job, {vanishing(2.1), vanishing(2.6), fusing(2.4), fusing(2.9)});
  REQUIRE(s.sweep.size() == 5);
  const std::uint32_t vanish[] = {2, 1, 1, 0, 0}, fuse[] = {0, 0, 1, 1, 2};
  for (std::size_t i = 0; i < 5; ++i) {
    CAPTURE(i);
    CHECK(s.sweep[i].exposure_s == Approx(2 + 0.25 * static_cast<double>(i)));
    CHECK(s.sweep[i].vanish == vanish[i]);
    CHECK(s.sweep[i].fuse == fuse[i]);
    CHECK(s.sweep[i].vanish_mm3 == Approx(0.1 * vanish[i]));
    CHECK(s.sweep[i].fuse_mm3 == Approx(0.1 * fuse[i]));
  }
}

TEST_CASE("sweep: default times are 0.05 s apart over the valid range, at most sixty") {
  for (const auto& [from, to] :
       std::vector<std::pair<double, double>>{{1.8, 3.2}, {2.449, 2.55}, {0.3, 40}, {2, 2.01}, {1, 5}}) {
    CureModel m = model();
    m.valid_from_s = from, m.valid_to_s = to;
    const std::vector<double> times = sweep_times({}, m);
    CAPTURE(from, to);
    REQUIRE(times.size() >= 2);
    CHECK(times.size() <= 60);
    CHECK(times.front() == Approx(from));
    CHECK(times.back() == Approx(to));
    for (std::size_t i = 1; i < times.size(); ++i) CHECK(times[i] > times[i - 1]);
  }
  CHECK(sweep_times({},
                    [] {
                      CureModel m = model();
                      m.valid_from_s = 1.8, m.valid_to_s = 3.2;
                      return m;
                    }())
            .size() == 29);
  const std::vector<double> asked = sweep_times({1, 2, 3}, model());
  REQUIRE(asked.size() == 3);
  CHECK(asked[1] == Approx(1.5));
}

TEST_CASE("suggest: levers name times tonight and supports under islands") {
  Job job;
  job.exposure_s = 1.9;
  job.base_s = 8;
  IslandRow island;
  island.layer = 12, island.area_mm2 = 2, island.volume_mm3 = 3, island.height_mm = 0.55;
  job.islands = {island};
  const Suggestion s = suggest_for(job, {vanishing(2), fusing(3.125)});
  REQUIRE(s.tonight.size() == 2);
  CHECK(s.tonight[0].find("2.50 s") != std::string::npos);
  CHECK(s.tonight[1].find("25 s") != std::string::npos);
  REQUIRE(s.slicing.size() == 1);
  CHECK(s.slicing[0].find("layer 12") != std::string::npos);
  job.exposure_s = 2.5;
  job.base_s = 25;
  job.islands.clear();
  const Suggestion fine = suggest_for(job, {vanishing(2), fusing(3.125)});
  CHECK(fine.tonight.empty());
  CHECK(fine.slicing.empty());
  CHECK(fine.modelling.empty());
}

TEST_CASE("suggest: a wall of two pixels is not taken for a pin where the blur is thin") {
  // Blur 0.03 mm at 0.05 mm pixels: the light beside the middle, 0.791, would also be that of a pin of 0.106 mm.
  Job job;
  job.model.blur_mm = 0.03;
  const double q = 2 * std::sqrt(2.0) * 0.03;
  const double share = 0.5 * (std::erf(0.15 / q) + std::erf(0.05 / q));
  Contender wall = vanishing(2);
  wall.width_mm = 0.1, wall.critical_exposure_s = 1.6 / share;
  const Suggestion s = suggest_for(job, {wall, fusing(1.9), fusing(1.95)});
  REQUIRE(s.conflict);
  REQUIRE(s.exposure_s > 1.6);
  REQUIRE(s.changes.size() == 1);
  const double limit = wall_limit_mm(job.model, s.exposure_s);
  const double expected = limit > 0.1 ? limit : 0.1 + limit - wall_limit_mm(job.model, wall.critical_exposure_s);
  CHECK(s.changes[0].needed_mm == Approx(expected).epsilon(0.001));
}
