// The time to set, from rows that follow from given critical exposures (support.hpp): the rules of docs/verdicts.md,
// "The time to set", and the closed forms of docs/exposure.md (wall 2 sqrt2 s erfinv(bond / t), slot 2 sqrt2 s erfinv(1
// - fuse / t), flat slot Dp ln(t / fuse)).
#include <fmt/core.h>

#include <catch2/catch.hpp>
#include <cmath>
#include <optional>

#include "risk/certainty.hpp"
#include "support.hpp"

using namespace hairline;
using namespace hairline::plan_test;

namespace {

// A job of rows written by hand, where chances are beside the point.
struct Rows {
  std::vector<TimeRow> rows;
  Rows& at(double exposure_s, std::uint32_t lost, double expected_mm, double bulk = 0) {
    TimeRow row;
    row.point.exposure_s = exposure_s, row.point.vanish = lost, row.point.expected_mm = expected_mm;
    row.point.bulk_chance = bulk;
    row.whole_fails = bulk >= 0.5;
    rows.push_back(row);
    return *this;
  }
  // Something of harm 1 mm that will be lost at the row added last.
  Rows& losing(Detail detail) {
    detail.state = State::will, detail.probability = 0.9, detail.harm_mm = 1;
    rows.back().lost.push_back(detail);
    return *this;
  }
  // Something that may be lost there, and that another time saves.
  Rows& risking(Detail detail) {
    detail.state = State::may, detail.probability = 0.2, detail.harm_mm = 1, detail.avoidable = true;
    rows.back().lost.push_back(detail);
    return *this;
  }
  Suggestion suggested(double job_s) const {
    Job job;
    job.exposure_s = job_s;
    const RiskContext risk = context_of(job);
    RiskFound found = found_of(risk, {});
    found.rows = rows;
    return suggest(found, {risk, 0.05, {}, {}, {}, {}, {}});
  }
};

// The time under which bulk of a 0.05 mm layer fails with a chance of 0.1 %: 3.09 spreads of 5 % over the bond time.
const double sure_s = 1.6 * std::exp(3.0902 * 0.05);

}  // namespace

TEST_CASE("suggest: nothing at risk keeps the job's time, and the window is the record's range where bulk holds") {
  const Suggestion s = suggest_for({}, {});
  CHECK(s.action == Action::keep);
  CHECK(s.exposure_s == 2.5);
  CHECK(s.text == "Keep 2.50 s: nothing is lost.");
  REQUIRE(s.window_s.has_value());
  CHECK((*s.window_s)[0] >= sure_s - 1e-3);
  CHECK((*s.window_s)[0] < 1.95);
  CHECK((*s.window_s)[1] == Approx(3.2));
  CHECK_FALSE(s.conflict);
  CHECK_FALSE(s.layer_height_mm.has_value());
  CHECK_FALSE(s.coupons.has_value());
  CHECK(s.changes.empty());
  CHECK((s.tonight.empty() && s.slicing.empty() && s.modelling.empty()));
}

TEST_CASE("suggest: a time that saves what is lost, as near to the job's as serves") {
  Job job;
  job.exposure_s = 2.2;
  const Suggestion s = suggest_for(job, {vanishing(2.3), vanishing(2.35)});
  CHECK(s.action == Action::change);
  CHECK(s.now.vanish == 2);
  CHECK(s.then.vanish == 0);
  CHECK(s.then.exposure_s == s.exposure_s);
  // At risk no more from 2.35 s times exp(1.645 x 0.05) on, 2.55 s.
  CHECK(s.exposure_s >= 2.5);
  CHECK(s.exposure_s < 2.75);
  CHECK(has(s.text, "nothing is lost then instead of 2 parts"));
  REQUIRE(s.tonight.size() == 1);
  CHECK(has(s.tonight[0], "Set the exposure to 2."));
  for (const SweepPoint& point : s.sweep)
    if (point.exposure_s > s.exposure_s) CHECK(s.then.expected_mm - point.expected_mm < 0.05 * 2 + 1e-6);
}

TEST_CASE("suggest: window edges are rows, and end where something avoidable has a chance of 5 %") {
  const Suggestion s = suggest_for({}, {vanishing(2.0), fusing(2.95)});
  CHECK(s.action == Action::keep);
  REQUIRE(s.window_s.has_value());
  const double from_s = 2.0 * std::exp(1.6449 * 0.05), to_s = 2.95 * std::exp(-1.6449 * 0.05);
  CHECK((*s.window_s)[0] >= from_s);
  CHECK((*s.window_s)[0] < from_s * 1.09);
  CHECK((*s.window_s)[1] <= to_s);
  CHECK((*s.window_s)[1] > to_s / 1.09);
  // What no time saves does not narrow it.
  const Suggestion same = suggest_for({}, {vanishing(2.0), fusing(2.95), vanishing(9)});
  CHECK(same.window_s == s.window_s);
}

TEST_CASE("suggest: a row that finds nothing, but lies beside a loss, is in no window and not suggested") {
  // ln(2.55 / 2.44) is 0.88 spreads of 5 % and a chance of 19 %, ln(2.55 / 2.3) 2.06 and 2 % (standard tables).
  Rows rows;
  rows.at(1.9, 0, 0).at(2.1, 0, 0).at(2.3, 0, 0).at(2.44, 0, 0);
  rows.at(2.55, 1, 0.9).losing(fusing(2.3)).at(2.8, 1, 0.9).losing(fusing(2.3));
  const Suggestion kept = rows.suggested(2.44);
  CHECK(kept.action == Action::keep);
  CHECK(kept.covered_s == 2.3);
  CHECK_FALSE(kept.window_s.has_value());
  const Suggestion set = rows.suggested(2.8);
  CHECK(set.action == Action::change);
  CHECK(set.exposure_s == 2.3);
  CHECK(set.window_s == std::array{1.9, 2.3});
  // What vanishes reaches up, what fuses does not.
  Rows parts;
  parts.at(1.9, 1, 0.9).losing(vanishing(2.1)).at(2.0, 0, 0).at(2.2, 0, 0).at(2.5, 0, 0).at(2.6, 0, 0);
  CHECK(parts.suggested(2.5).window_s == std::array{2.2, 2.6});
  CHECK(parts.suggested(2.0).covered_s == 2.2);
  // No nearer one is as good: it is set all the same.
  Rows none;
  none.at(2.44, 0, 0).at(2.55, 1, 0.9).losing(fusing(2.5));
  CHECK(none.suggested(2.55).exposure_s == 2.44);
  CHECK_FALSE(none.suggested(2.44).covered_s.has_value());
}

TEST_CASE("suggest: what is lost with less light, and runs together with rounding beyond, is not open there") {
  Rows rows;
  rows.at(2.0, 0, 0).at(2.2, 1, 0.9).losing(fusing(2.1)).at(2.5, 0, 0).at(2.8, 0, 0);
  const Suggestion s = rows.suggested(2.5);
  CHECK(s.action == Action::keep);
  CHECK(s.covered_s == 2.0);
  CHECK_FALSE(s.window_s.has_value());
  CHECK(s.text == "Keep 2.50 s: 1 gap that is lost at 2.20 s is lost at 2.50 s too; at 2.00 s nothing is at risk.");
  CHECK(s.sweep[0].half_lost == 0);
  CHECK(s.sweep[1].half_lost == 0);
  CHECK(s.sweep[2].half_lost == 1);
  CHECK(s.sweep[3].half_lost == 1);
  // Parts likewise with more light; a gap with more light, and less than it takes to fill half of it, is open.
  Rows parts;
  parts.at(2.2, 0, 0).at(2.5, 1, 0.9).losing(vanishing(2.6)).at(2.8, 0, 0);
  CHECK(parts.suggested(2.2).sweep[0].half_lost == 1);
  CHECK(parts.suggested(2.2).sweep[2].half_lost == 0);
}

TEST_CASE("suggest: a row at which much does not cure in small pieces is no window and is left for one that does") {
  Rows rows;
  rows.at(2.0, 0, 0).at(2.2, 0, 0).at(2.4, 0, 0).at(2.6, 0, 0).at(2.8, 0, 0);
  for (const std::size_t i : {0u, 1u, 2u}) rows.rows[i].point.uncured_share = 0.18;
  rows.rows[3].point.uncured_share = 0.02;
  const Suggestion s = rows.suggested(2.2);
  CHECK(s.action == Action::change);
  CHECK(s.exposure_s == 2.6);
  CHECK(s.text == "Set 2.60 s: at 2.20 s 18 % of the print does not cure.");
  CHECK(s.window_s == std::array{2.6, 2.8});
  CHECK(rows.suggested(2.6).action == Action::keep);
  for (TimeRow& row : rows.rows) row.point.uncured_share = 0.18;
  CHECK(rows.suggested(2.2).text ==
        "Keep 2.20 s: 18 % of the print does not cure, but no time of the record is better.");
}

TEST_CASE("suggest: no coupons beyond an end at which the print as a whole fails, or that was not looked at") {
  Rows rows;
  rows.at(1.8, 0, 0, 1).at(2.5, 1, 3).losing(fusing(1.7));
  CHECK(rows.suggested(2.5).action == Action::keep);
  Rows inside;  // the record goes on to 3.2 s
  inside.at(2.3, 1, 3).losing(vanishing(3.3)).at(2.6, 1, 3).losing(vanishing(3.3));
  CHECK(inside.suggested(2.3).action == Action::keep);
  inside.at(3.2, 1, 3).losing(vanishing(3.3));
  CHECK(inside.suggested(2.3).action == Action::record);
}

TEST_CASE("suggest: an exception that is to blame comes first, small islands are among what the slicer can do") {
  Job job;
  RiskContext risk = context_of(job);
  RiskFound found = found_of(risk, {vanishing(2.8)});
  REQUIRE(found.details.size() == 1);
  IslandRow small, held;
  small.area_mm2 = 0.02, held.area_mm2 = 3, held.held_by_fill = true;
  const auto slicing = [&] { return suggest(found, {risk, 0.05, {}, {}, {small, held}, {}, {}}).slicing; };
  REQUIRE_FALSE(slicing().empty());
  CHECK(slicing()[0] == "Put a support under the small island, or let it go.");
  const std::uint32_t layer = found.details[0].from_layer;
  small.volume_mm3 = 0.9;
  const std::vector<IslandRow> two{small, small};
  CHECK(suggest(found, {risk, 0.05, {}, {}, two, {}, {}}).slicing[0] == "Put supports under the 2 small islands.");
  const auto blamed_s = [&]() -> std::optional<double> {
    const Suggestion s = suggest(found, {risk, 0.05, {}, {}, {}, {}, {}});
    if (!s.exception) return std::nullopt;
    CHECK(s.exception->from_layer == layer);
    CHECK(s.exception->to_layer == layer);
    CHECK(s.tonight.front() ==
          fmt::format("First give layer {} the time of the others, where an exception of the job gives {:.2f} s, and "
                      "check again.",
                      layer, s.exception->exposure_s));
    return s.exception->exposure_s;
  };
  CHECK_FALSE(blamed_s());
  risk.layers[layer - 1].exposure_s = 1.7;
  CHECK(blamed_s() == 1.7);
  risk.layers[layer - 1].exposure_s = 3.5;  // what vanishes gets more there
  CHECK_FALSE(blamed_s());
  found.details[0].fate = Fate::fuse;
  CHECK(blamed_s() == 3.5);
  found.details.clear();
  risk.layers[layer - 1].exposure_s = 1.7;
  found.bulk = Bulk{2.0, 0.85, 0.9, layer};
  CHECK(blamed_s() == 1.7);
  found.bulk->layer = layer + 1;  // which has the time of the others
  CHECK_FALSE(blamed_s());
}

TEST_CASE("suggest: what is thinner than a pixel is to be drawn thicker; supports do not help what stands on it") {
  Job job;
  const RiskContext risk = context_of(job);
  const RiskFound found = found_of(risk, {});
  IslandRow on, beside;
  on.layer = beside.layer = 31, on.area_mm2 = beside.area_mm2 = 0.02;
  on.start = PlaceMm{1.05, 2.05, 1.5}, beside.start = PlaceMm{3, 2, 1.5};
  const FaintPart pole{21, 30, {{1, 2, 1}, {1.1, 2.1, 1.5}}};
  const Suggestion one = suggest(found, {risk, 0.05, {}, {}, {on}, {pole}, {}});
  CHECK(one.slicing.empty());
  REQUIRE(one.modelling.size() == 1);
  CHECK(one.modelling[0] == "Draw the part thinner than a pixel at least 0.21 mm thick.");
  const Suggestion two = suggest(found, {risk, 0.05, {}, {}, {on, beside}, {pole, pole}, {}});
  REQUIRE(two.slicing.size() == 1);
  CHECK(two.slicing[0] == "Put a support under the small island, or let it go.");
  CHECK(has(two.modelling[0], "Draw the 2 parts thinner than a pixel at least"));
}

TEST_CASE("suggest: a time at which much still hangs on what may be lost is said to stay on hold") {
  Rows rows;
  rows.at(2.5, 1, 8).losing(vanishing(2.8)).at(3.2, 0, 1);
  Detail left = vanishing(2.8);
  left.state = State::may, left.probability = 0.27, left.harm_mm = 3, left.carries_mm3 = 8;
  rows.rows.back().lost = {left};
  const Suggestion s = rows.suggested(2.5);
  CHECK(s.action == Action::change);
  CHECK(s.then_hangs_mm3 == 8);
  CHECK(has(s.text, "8.0 mm3 hang on what may be lost then, so it stays on hold."));
  rows.rows.back().lost[0].carries_mm3 = 3;  // times 0.27 is no more than 1 mm3
  CHECK(rows.suggested(2.5).then_hangs_mm3 == 0);
}

TEST_CASE("suggest: a time at which bulk is not sure to bond names the nearest one at which all is safe") {
  Rows rows;
  rows.at(1.85, 0, 0, 0.004).at(1.95, 0, 0, 0.0005).at(2.5, 0, 0);
  const Suggestion s = rows.suggested(1.85);
  CHECK(s.action == Action::keep);
  CHECK(s.covered_s == 1.95);
  CHECK_FALSE(s.layer_height_mm.has_value());
}

TEST_CASE("suggest: no window narrower than 5 % of its middle, none around a time at risk, none outside the record") {
  // 2.3 to 2.41 s is 4.7 % wide, 2.3 to 2.42 s 5.1 %.
  Rows narrow, wide;
  narrow.at(2.2, 0, 0, 0.001).at(2.3, 0, 0).at(2.41, 0, 0).at(2.5, 0, 0, 0.001);
  wide.at(2.2, 0, 0, 0.001).at(2.3, 0, 0).at(2.42, 0, 0).at(2.5, 0, 0, 0.001);
  CHECK_FALSE(narrow.suggested(2.3).window_s.has_value());
  REQUIRE(wide.suggested(2.3).window_s.has_value());
  CHECK(*wide.suggested(2.3).window_s == std::array{2.3, 2.42});
  CHECK_FALSE(wide.suggested(2.5).window_s.has_value());
  Rows beyond;
  beyond.at(1.7, 0, 0).at(1.8, 0, 0).at(2.5, 0, 0).at(3.2, 0, 0).at(3.4, 0, 0);
  REQUIRE(beyond.suggested(2.5).window_s.has_value());
  CHECK(*beyond.suggested(2.5).window_s == std::array{1.8, 3.2});
}

TEST_CASE("suggest: a row that loses fewer but puts more at stake is not better") {
  Rows rows;
  rows.at(2.3, 4, 10).at(2.5, 5, 9.9).at(2.7, 1, 9.9 + 1e-3);
  const Suggestion s = rows.suggested(2.5);
  CHECK(s.action == Action::keep);
  CHECK(s.text == "Keep 2.50 s: the times that lose fewer than these 5 parts put more of the print at stake.");
  Rows equal;  // the same at stake, but for noise: fewer is better then
  equal.at(2.3, 5, 12).at(2.5, 5, 9.9).at(2.7, 1, 9.9 + 1e-9);
  CHECK(equal.suggested(2.5).exposure_s == 2.7);
}

TEST_CASE("suggest: without fewer losses, more than half and more than 2 mm must be spared") {
  const auto exposure_s = [](double now_mm, double then_mm) {
    Rows rows;
    rows.at(2.5, 1, now_mm).at(2.7, 1, then_mm);
    return rows.suggested(2.5).exposure_s;
  };
  CHECK(exposure_s(10, 4.9) == 2.7);
  CHECK(exposure_s(10, 5) == 2.5);      // half, not more
  CHECK(exposure_s(4.1, 2.04) == 2.7);  // 2.06 mm
  CHECK(exposure_s(3.9, 1.9) == 2.5);   // 2 mm, not more
  CHECK(exposure_s(2, 0) == 2.5);
  CHECK(exposure_s(2.001, 0) == 2.7);
  // Equal rows do not flip on noise.
  CHECK(exposure_s(3, 3 - 1e-12) == 2.5);
}

TEST_CASE("suggest: the nearest of the rows within 5 % of the way to the least") {
  Rows rows;
  rows.at(2.0, 0, 0).at(2.4, 1, 1.1).at(2.5, 5, 20).at(2.6, 1, 0.9).at(2.8, 0, 0);
  CHECK(rows.suggested(2.5).exposure_s == 2.6);  // 5 % of 20 mm is 1 mm
  Rows steps;
  steps.at(2.5, 5, 20).at(2.6, 4, 10).at(2.8, 3, 2).at(3.0, 2, 1);
  CHECK(steps.suggested(2.5).exposure_s == 3.0);
  // A step further where something is still at risk at the nearest, if only nothing is there.
  Rows risky;
  risky.at(2.5, 5, 20).at(2.6, 0, 0.2).risking(vanishing(2.5)).at(2.8, 0, 0);
  CHECK(risky.suggested(2.5).exposure_s == 2.8);
  Rows both;
  both.at(2.5, 5, 20).at(2.6, 0, 0.2).risking(vanishing(2.5)).at(2.8, 0, 0.2).risking(fusing(2.9));
  CHECK(both.suggested(2.5).exposure_s == 2.6);
}

TEST_CASE("suggest: bulk that does not hold rules a row out, and moves a job off one") {
  Rows rows;
  rows.at(1.8, 0, 0, 0.002).at(2.0, 2, 3, 0.0009).at(2.5, 3, 4);
  CHECK(rows.suggested(2.5).exposure_s == 2.0);
  // The job's own row fails as a whole: nothing is listed there, and any row at which bulk holds is better.
  Rows failing;
  failing.at(1.8, 0, 0, 1).at(2.0, 3, 9).at(2.2, 1, 2).at(2.4, 1, 1.4).at(2.8, 0, 0).at(3.2, 8, 30);
  const Suggestion s = failing.suggested(1.8);
  CHECK(s.action == Action::change);
  CHECK(s.exposure_s == 2.4);  // within 5 % of the way from the worst, 30 mm, to the least, 0
  CHECK(has(s.text, "At 1.80 s the print as a whole fails."));
  // A chance of 1 % of losing all is a reason to hold by itself, and counts like it.
  Rows unsure;
  unsure.at(1.8, 0, 0, 0.01).at(2.0, 0, 0.1).at(2.2, 0, 0.2);
  CHECK(unsure.suggested(1.8).exposure_s == 2.0);
  Rows nearly;
  nearly.at(1.8, 0, 0, 0.009).at(2.0, 0, 0.1).at(2.2, 0, 0.2);
  CHECK(nearly.suggested(1.8).exposure_s == 1.8);
}

TEST_CASE("suggest: a sound block a little over its bond time is moved to where bulk holds") {
  Job job;
  job.model.valid_from_s = 1.6, job.exposure_s = 1.65;
  const Suggestion s = suggest_for(job, {});
  CHECK(s.action == Action::change);
  CHECK(s.exposure_s >= sure_s - 1e-3);
  CHECK(s.exposure_s < 2.05);
  CHECK(has(s.text, "may fail"));
}

TEST_CASE("suggest: a range wholly under bond is recorded, with the time from which it would print") {
  Job job;
  job.model.valid_from_s = 1, job.model.valid_to_s = 1.5, job.exposure_s = 1.3, job.base_s = 13;
  const Suggestion s = suggest_for(job, {vanishing(1.4)});
  CHECK(s.action == Action::record);
  CHECK(s.exposure_s == 1.3);
  CHECK_FALSE(s.window_s.has_value());
  CHECK_FALSE(s.conflict);
  CHECK_FALSE(s.layer_height_mm.has_value());
  CHECK(s.changes.empty());
  // 1.6 s exp(3.09 x 0.05) = 1.867 s.
  CHECK(s.text ==
        "No time of the record is sure to print this: its solid parts bond from about 1.9 s on. Print coupons at 1.7, "
        "1.8, 1.9 and 2.0 s first.");
  REQUIRE(s.coupons.has_value());
  CHECK(s.coupons->exposures_s == std::vector<double>{1.7, 1.8, 1.9, 2.0});
  REQUIRE(s.tonight.size() == 1);
  CHECK(s.tonight[0] == "Print coupons at 1.7, 1.8, 1.9 and 2.0 s.");
}

TEST_CASE("suggest: where bulk is unsure at every time, no part is to be changed for it") {
  Job job;
  job.model.valid_from_s = 1.65, job.model.valid_to_s = 1.75, job.exposure_s = 1.7;
  const Suggestion s = suggest_for(job, {vanishing(2.5)});
  CHECK(s.action == Action::record);
  CHECK(s.now.bulk_chance.value_or(0) == Approx(0.113).margin(0.001));  // Phi(ln(1.6 / 1.7) / 0.05)
  CHECK(s.changes.empty());
}

TEST_CASE("suggest: thick layers everything of which is under bond, and layers with a share of the time") {
  Job job;
  job.height_mm = 0.2;
  const Suggestion thick = suggest_for(job, {});
  CHECK(thick.action == Action::record);
  // 1.6 s exp(0.15 / 0.16) = 4.086 s; times exp(3.09 x 0.05) = 4.77 s.
  CHECK(has(thick.text, "from about 4.8 s on"));
  REQUIRE(thick.coupons.has_value());
  CHECK(thick.coupons->exposures_s.size() <= 5);
  CHECK(thick.coupons->exposures_s.front() < 4.77);
  CHECK(thick.coupons->exposures_s.back() > 4.77);
  Job shared;
  shared.factor = 0.5;
  CHECK(has(suggest_for(shared, {}).text, "from about 3.8 s on"));  // 2 x 1.867 = 3.73
}

TEST_CASE("suggest: a wall a little beyond the range asks for coupons") {
  const Suggestion s = suggest_for({}, {vanishing(3.2 * 1.01)});
  CHECK(s.action == Action::record);
  CHECK(s.exposure_s == 2.5);
  REQUIRE(s.coupons.has_value());
  CHECK(s.coupons->saves == 1);
  // Beyond the end, and up to where the wall is no longer at risk: 3.232 exp(1.645 x 0.05) = 3.51 s.
  CHECK(s.coupons->exposures_s == std::vector<double>{3.3, 3.4, 3.5, 3.6});
  CHECK(s.text ==
        "No time of the record loses less than this part, but it may be saved just beyond the record. Print "
        "coupons at 3.3, 3.4, 3.5 and 3.6 s first.");
  // A quarter beyond is the furthest that is looked for, at either end.
  CHECK(suggest_for({}, {vanishing(3.2 * 1.25)}).action == Action::record);
  CHECK(suggest_for({}, {vanishing(3.2 * 1.2501)}).action == Action::keep);
  Job job;
  job.model.bond_time_s = 1.2;
  const Suggestion shorter = suggest_for(job, {fusing(1.7), fusing(1.6), vanishing(9)});
  CHECK(shorter.action == Action::record);
  REQUIRE(shorter.coupons.has_value());
  CHECK(shorter.coupons->saves == 2);
  CHECK(shorter.coupons->exposures_s.back() == 1.7);
  CHECK(shorter.coupons->exposures_s.front() <= 1.5);
  CHECK(has(shorter.text, "2 of them may be saved just beyond the record"));
  CHECK(has(shorter.text, "where the other stays lost"));
  // No coupons where solid parts do not bond: with a bond time of 1.6 s nothing shorter than 1.8 s is sure to.
  CHECK(suggest_for({}, {fusing(1.7), fusing(1.6), vanishing(9)}).action == Action::keep);
  job.model.bond_time_s = 1.4;  // 1.63 s
  const Suggestion some = suggest_for(job, {fusing(1.7), fusing(1.6), vanishing(9)});
  REQUIRE(some.coupons.has_value());
  CHECK(some.coupons->saves == 1);
  CHECK(some.coupons->exposures_s == std::vector<double>{1.6, 1.7});
}

TEST_CASE("suggest: no coupons where as much is lost beyond the record as they would save, whatever the action") {
  Job job;
  const std::vector<Detail> things = {vanishing(3.3), fusing(2.9), fusing(2.95), fusing(3)};
  const Suggestion s = suggest_for(job, things);  // one is lost at 2.5 s, three at the end of the record
  CHECK(s.action == Action::keep);
  CHECK_FALSE(s.coupons.has_value());
  CHECK(suggest_for(job, {vanishing(3.3), vanishing(3.3), fusing(3)}).action == Action::record);
}

TEST_CASE("suggest: what flips at another time as well is not saved there, whatever its row says") {
  // A part that grows together with the rounding around it is called rounding there, and is still gone.
  const auto exposure_s = [](Fate fate, double job_s, double critical_s) {
    Rows rows;
    rows.at(2.2, job_s > 2.2, 5).at(2.5, job_s < 2.5, 5);
    TimeRow& now = job_s > 2.2 ? rows.rows[1] : rows.rows[0];
    TimeRow& other = job_s > 2.2 ? rows.rows[0] : rows.rows[1];
    now.point.vanish = fate == Fate::vanish, now.point.fuse = fate == Fate::fuse;
    other.point.vanish = other.point.fuse = 0, other.point.expected_mm = 0;
    Detail lost = harmful(fate == Fate::vanish ? vanishing(critical_s) : fusing(critical_s), 5);
    lost.state = State::will, lost.probability = 1, lost.extent_mm = 5;
    now.lost = {lost};
    return rows.suggested(job_s).exposure_s;
  };
  CHECK(exposure_s(Fate::vanish, 2.5, 3) == 2.5);
  CHECK(exposure_s(Fate::vanish, 2.2, 3) == 2.2);
  CHECK(exposure_s(Fate::vanish, 2.2, 2.4) == 2.5);
  CHECK(exposure_s(Fate::fuse, 2.2, 2) == 2.2);
  CHECK(exposure_s(Fate::fuse, 2.5, 2) == 2.5);
  CHECK(exposure_s(Fate::fuse, 2.5, 2.3) == 2.2);
}

TEST_CASE("suggest: the common-practice bracket around a guess is in steps of 0.1 s, five coupons at most") {
  // Steps of 0.1 s and five coupons: common practice, no source.
  for (const double beyond : {1.005, 1.03, 1.1, 1.2, 1.25}) {
    for (const double log_sd : {0.05, 0.1, 0.3}) {
      const Suggestion s = suggest_for({}, {vanishing(3.2 * beyond, log_sd)});
      if (s.action != Action::record) continue;  // a wide spread may make the end of the range better by itself
      CAPTURE(beyond, log_sd);
      REQUIRE(s.coupons.has_value());
      const std::vector<double>& times = s.coupons->exposures_s;
      CHECK(times.size() <= 5);
      CHECK(times.front() == Approx(3.3));
      for (std::size_t i = 1; i < times.size(); ++i) CHECK(times[i] - times[i - 1] > 0.099);
      for (const double t : times) CHECK(10 * t == Approx(std::round(10 * t)));
    }
  }
}

TEST_CASE("suggest: coupons are named beside a better time only where they would save more") {
  Job job;
  job.exposure_s = 2.1;
  const Suggestion s = suggest_for(job, {vanishing(2.2), vanishing(3.3), vanishing(3.4)});
  CHECK(s.action == Action::change);
  REQUIRE(s.coupons.has_value());
  CHECK(s.coupons->saves == 2);
  CHECK(has(s.text, "2 of what stays lost may be saved beyond the record: print coupons at 3.3"));
  // Three gaps close before the end: what lies beyond it loses more.
  const Suggestion never =
      suggest_for(job, {vanishing(2.2), vanishing(3.3), vanishing(3.4), fusing(2.9), fusing(2.95), fusing(3)});
  CHECK(never.action == Action::change);
  CHECK_FALSE(never.coupons.has_value());
}

TEST_CASE("suggest: a job outside the record's range is moved inside where that is better, else recorded") {
  Job job;
  job.exposure_s = 4;
  const Suggestion nothing = suggest_for(job, {});
  CHECK(nothing.action == Action::record);
  CHECK(nothing.exposure_s == 4);
  CHECK_FALSE(nothing.window_s.has_value());
  CHECK(has(nothing.text,
            "4.00 s lies outside the record (1.80 to 3.20 s), in which nothing is at risk at 3.20 s: set that. To stay "
            "at 4.00 s, print coupons at "));
  CHECK(nothing.covered_s == Approx(3.2));
  REQUIRE(nothing.coupons.has_value());
  CHECK(nothing.coupons->exposures_s.front() <= 4);
  CHECK(nothing.coupons->exposures_s.back() >= 4);
  const Suggestion saved = suggest_for(job, {fusing(3.6), fusing(3.7)});
  CHECK(saved.action == Action::change);
  CHECK(saved.exposure_s <= 3.2);
  CHECK(saved.then.fuse == 0);
  job.exposure_s = 1.2;  // under bond: fails as a whole
  const Suggestion failing = suggest_for(job, {});
  CHECK(failing.action == Action::change);
  CHECK(failing.exposure_s >= sure_s - 1e-3);
}

TEST_CASE("suggest: what is beyond help is kept, and said") {
  const Suggestion s = suggest_for({}, {vanishing(9), vanishing(9), fusing(0.9)});
  CHECK(s.action == Action::keep);
  CHECK(s.text == "Keep 2.50 s: no time of the record loses less than these 2 parts and 1 gap.");
  CHECK(s.changes.size() == 3);
  const Suggestion maybe = suggest_for({}, {vanishing(2.35), fusing(2.65)});
  CHECK(maybe.action == Action::keep);
  CHECK(maybe.text == "Keep 2.50 s: 1 part and 1 gap may be lost, but no time of the record is clearly better.");
  CHECK_FALSE(maybe.window_s.has_value());
  CHECK(maybe.conflict);
}

TEST_CASE("suggest: a sweep stays inside what was asked") {
  Job job;
  job.sweep = {2, 2.4, 5};
  const Suggestion s = suggest_for(job, {vanishing(2.9), vanishing(2.85)});  // 3.2 s would save both
  CHECK(s.action == Action::keep);
  CHECK(s.text == "Keep 2.50 s: no time from 2.00 to 2.40 s loses less than these 2 parts.");
  CHECK_FALSE(s.window_s.has_value());
  CHECK(s.sweep.size() == 6);
  job.sweep = {2.4, 5, 8};  // beyond the record nothing is suggested either
  const Suggestion wide = suggest_for(job, {vanishing(2.9), vanishing(2.85)});
  CHECK(wide.action == Action::change);
  CHECK(wide.exposure_s <= 3.2);
  job.sweep = {2.4, 5, 3};  // 2.4, 3.7 and 5 s: those that would save both lie outside the record
  CHECK(suggest_for(job, {vanishing(2.9), vanishing(2.85)}).action == Action::keep);
  job.sweep = {2.7, 2.9, 3};
  const Suggestion part = suggest_for(job, {fusing(2.4), fusing(1.9)});
  CHECK(part.action == Action::keep);
  job.sweep = {4, 6, 3};  // outside the record all of it
  CHECK(suggest_for(job, {vanishing(2.9), vanishing(2.85)}).text ==
        "Keep 2.50 s: the times asked for lie outside the record (1.80 to 3.20 s).");
  CHECK(has(suggest_for(job, {vanishing(3.5), vanishing(5)}).text,
            "lie outside the record (1.80 to 3.20 s), but 1 of what is lost may be saved just beyond the record"));
  job.sweep = {1, 1.5, 3};  // under bond all of it, but the record goes on to where bulk holds
  job.exposure_s = 1.3;
  const Suggestion low = suggest_for(job, {});
  CHECK(low.action == Action::record);
  CHECK(low.text == "No time from 1.00 to 1.50 s is sure to print this: its solid parts bond from about 1.9 s on.");
  CHECK_FALSE(low.coupons.has_value());
}

// Wherever a part lies among the pixels (0.05 mm): half a pixel beside the nearest middle, p^2 / 4, and grey edges,
// p^2 / 6 (docs/exposure.md, Light).
CureModel at_worst_place(CureModel one) {
  one.blur_mm = std::sqrt(one.blur_mm * one.blur_mm + 0.05 * 0.05 * (1.0 / 4 + 1.0 / 6));
  return one;
}

TEST_CASE("suggest: changes need what the closed form says where the chance falls to 5 %, in hundredths") {
  const double sd = 0.05, margin = std::exp(1.6449 * sd);
  const Suggestion s = suggest_for({}, {vanishing(9, sd), fusing(0.9, sd), flat(0.8, sd)});
  REQUIRE(s.changes.size() == 3);
  for (const Change& change : s.changes) {
    const double limit = change.fate == Fate::vanish ? wall_limit_mm(at_worst_place(model()), 2.5 / margin)
                         : change.flat               ? flat_slot_limit_mm(model(), 2.5 * margin)
                                                     : slot_limit_mm(at_worst_place(model()), 2.5 * margin);
    CHECK(change.needed_mm >= limit - 1e-6);
    CHECK(change.needed_mm < limit + (change.flat ? 0.05 : 0.01) + 1e-6);
    if (change.flat) CHECK(std::remainder(change.needed_mm, 0.05) == Approx(0).margin(1e-6));  // whole layers
    CHECK(change.needed_px == Approx((change.needed_mm - change.width_mm) / 0.05));
  }
}

TEST_CASE("suggest: needed is never 0 more") {
  for (const double width : {-1.0, 0.0, 0.05, 0.08499, 0.085, 0.1, 0.15, 0.2, 0.35}) {
    for (const double critical : {2.2, 2.303, 2.51, 2.6, 3.0, 9.0, 1.0}) {
      Detail wall = vanishing(critical), slot = fusing(critical);
      if (width >= 0) wall.width_mm = slot.width_mm = width;  // else the closed form's
      Detail low = slot;
      low.flat = true;
      for (const Change& change : suggest_for({}, {wall, slot, low}).changes) {
        CAPTURE(width, critical, change.needed_mm, change.flat);
        CHECK(change.needed_mm >= change.width_mm + 0.01 - 1e-9);
        CHECK(std::round(100 * change.needed_mm) / 100 == Approx(change.needed_mm).epsilon(1e-9));
        CHECK(change.needed_px > 0);
      }
    }
  }
}

TEST_CASE("suggest: a part hardly at risk needs a hundredth more, not a shade of one") {
  const Detail wall = vanishing(2.303);  // at risk until 2.303 exp(1.645 x 0.05) = 2.5005 s
  const Suggestion s = suggest_for({}, {wall});
  REQUIRE(s.changes.size() == 1);
  CHECK(s.changes[0].needed_mm >= wall.width_mm + 0.01);
  CHECK(s.changes[0].needed_mm < wall.width_mm + 0.02 + 1e-9);
}

TEST_CASE("suggest: layers with a time of their own need what the closed form says at that time") {
  Job job;
  job.factor = 0.9;
  Detail wall = vanishing(9);
  wall.critical_exposure_s = 9 / 0.9;
  const Suggestion s = suggest_for(job, {wall});
  REQUIRE(s.changes.size() == 1);
  const double limit = wall_limit_mm(at_worst_place(model()), 0.9 * 2.5 * std::exp(-1.6449 * 0.05));
  CHECK(s.changes[0].needed_mm == Approx(limit + 0.005).margin(0.0051));
}

TEST_CASE("suggest: a gap under a roof needs what keeps a flat one open too") {
  Detail hole = fusing(1.5);  // lying: as wide as it is high
  hole.width_mm = 0.1;
  const double upright_mm = suggest_for({}, {hole}).changes.at(0).needed_mm;
  hole.roofed = true;
  const double flat_mm = flat_slot_limit_mm(model(), 2.5 * std::exp(1.6449 * 0.05));
  CHECK(flat_mm > upright_mm + 0.01);
  const Change change = suggest_for({}, {hole}).changes.at(0);
  CHECK(change.needed_mm >= flat_mm);
  CHECK(change.needed_mm < flat_mm + 0.05 + 1e-6);
  CHECK_FALSE(change.flat);
}

TEST_CASE("suggest: a part darker than its width explains needs the difference of the limits on top") {
  Job job;
  job.factor = 0.9;
  Detail wall = vanishing(3);
  wall.width_mm = 0.2, wall.critical_exposure_s = 3 / 0.9;
  const Suggestion s = suggest_for(job, {wall});
  REQUIRE(s.changes.size() == 1);
  const double at_s = 0.9 * 2.5 * std::exp(-1.6449 * 0.05);
  const CureModel spread = at_worst_place(model());
  const double needed = 0.2 + pin_limit_mm(spread, at_s) - pin_limit_mm(spread, 3);  // a pin explains it better
  CHECK(s.changes[0].needed_mm == Approx(needed + 0.005).margin(0.0051));
}

TEST_CASE("suggest: a wall two pixels wide needs what a straight wall needs, and is not taken for a pin") {
  // Its brightest pixel lies half a pixel beside the middle: (erf((w + p) / q) + erf((w - p) / q)) / 2, q = 2 sqrt2 s.
  // Blur 0.03 mm at 0.05 mm pixels: that light, 0.791, would also be that of a pin of 0.106 mm.
  Job job;
  job.model.blur_mm = 0.03, job.exposure_s = 1.9;
  const double q = 2 * std::sqrt(2.0) * 0.03;
  const double share = 0.5 * (std::erf(0.15 / q) + std::erf(0.05 / q));
  Detail wall = vanishing(2);
  wall.width_mm = 0.1, wall.critical_exposure_s = 1.6 / share;
  Job fixed = job;
  fixed.model.valid_to_s = 1.91;
  const Suggestion s = suggest_for(fixed, {wall});
  REQUIRE(s.changes.size() == 1);
  const double limit = wall_limit_mm(at_worst_place(job.model), 1.9 * std::exp(-1.6449 * 0.05));
  CHECK(s.changes[0].needed_mm == Approx(limit + 0.005).margin(0.0051));
}

TEST_CASE("suggest: a post is a pin by its box, whatever width its grey edges leave") {
  // Post of 3 x 2 pixels of 0.022 mm, measured 0.034 mm wide: a wall that narrow would have the same critical exposure.
  Job job;
  job.model.blur_mm = 0.02, job.exposure_s = 2.3;
  Job fixed = job;
  fixed.model.valid_to_s = 2.31;
  Detail post = vanishing(2.66);
  post.width_mm = wall_limit_mm(job.model, 2.66);
  post.box = {{7.458, 2.53, 1}, {7.524, 2.574, 1.8}};
  const double limit_s = 2.3 * std::exp(-1.6449 * 0.05);
  const auto needed_mm = [&](const Detail& detail) {
    const Suggestion s = suggest_for(fixed, {detail});
    REQUIRE(s.changes.size() == 1);
    return s.changes[0].needed_mm;
  };
  CHECK(needed_mm(post) >= pin_limit_mm(at_worst_place(job.model), limit_s));
  Detail wall = post;
  wall.box.to.x = 9;
  CHECK(needed_mm(wall) < needed_mm(post));
}

TEST_CASE("suggest: what of a part is hardest to save decides how thick it has to be") {
  // A railing goes as one at 2.1 s; at 2.5 s its rail stays and the posts go.
  Detail railing = vanishing(2.21), post = vanishing(2.9), elsewhere = vanishing(2.9);
  railing.width_mm = 0.08, railing.box = {{2, 2, 5.2}, {24, 9, 6.4}};
  post.width_mm = 0.1, post.box = {{2.5, 2.5, 5.2}, {2.6, 2.6, 6.2}};
  elsewhere.width_mm = 0.1, elsewhere.box = {{1.5, 2.5, 5.2}, {1.6, 2.6, 6.2}};
  const auto needed_mm = [&](const Detail& at_more_light) {
    Rows rows;
    rows.at(2.1, 1, 0.9).losing(railing).at(2.5, 1, 0.9).losing(at_more_light);
    const Suggestion s = rows.suggested(2.1);
    REQUIRE(s.exposure_s == 2.1);
    REQUIRE(s.changes.size() == 1);
    return s.changes[0].needed_mm;
  };
  CHECK(needed_mm(post) > needed_mm(elsewhere) + 0.02);
  CHECK(needed_mm(post) >= pin_limit_mm(at_worst_place(Job().model), 2.1 * std::exp(-1.6449 * 0.05)));
}

TEST_CASE("suggest: the rim of a lost part is not named a second time") {
  Detail rim = harmful(vanishing(2.4), 0);
  const Suggestion s = suggest_for({}, {vanishing(9), rim});
  CHECK(s.changes.size() == 1);
}

TEST_CASE("suggest: another layer height is named only where it would open a window") {
  // At 0.1 mm: bond x 1.367, fuse x 1.169 x 1.732 = 2.025: a wall at 1.9 needs 2.6 s, a slot at 2 closes from 4.05 s
  // on; with the margins of 5 % chance that is 2.82 to 3.2 s.
  const Suggestion opened = suggest_for({}, {vanishing(1.9), fusing(2)});
  REQUIRE(opened.conflict);
  REQUIRE(opened.layer_height_mm.has_value());
  CHECK(*opened.layer_height_mm > 0.05);
  CHECK(has(opened.slicing.front(), "estimate"));
  const Suggestion never = suggest_for({}, {vanishing(3.1), fusing(1.9)});
  REQUIRE(never.conflict);
  CHECK_FALSE(never.layer_height_mm.has_value());
  CHECK_FALSE(suggest_for({}, {vanishing(1.9), fusing(3)}).layer_height_mm.has_value());
  // A slot alone, at 1.91 s: at 0.06 mm it would do until 2.08 s, but bulk bonds for sure from 1.99 s on only, which
  // is under 5 %; at 0.07 mm until 2.43 s, and bulk bonds from 2.12 s on.
  const Suggestion thicker = suggest_for({}, {fusing(1.91, 0.06)});
  REQUIRE(thicker.layer_height_mm.has_value());
  CHECK(*thicker.layer_height_mm == Approx(0.07));
}

TEST_CASE("suggest: a part that is grey in the masks needs white, not more thickness or another layer height") {
  Detail grey = vanishing(1.6 * 255 / 120);  // as thick as a wall of equal light
  grey.box = {{2, 2, 0.5}, {4, 4, 1}}, grey.volume_mm3 = 2;
  const Suggestion s = suggest_for({}, {grey});
  CHECK(s.changes.empty());
  CHECK_FALSE(s.layer_height_mm.has_value());
  REQUIRE(s.slicing.size() == 1);
  CHECK(s.slicing[0] == "Export #1 in full white: it is grey in the masks, not thin.");
  grey.volume_mm3 = 0.5;  // a quarter of its box: walls
  CHECK(suggest_for({}, {grey}).changes.size() == 1);
}

TEST_CASE("suggest: what only the suggested time loses has no number yet, and is named by its place") {
  Job job;
  job.exposure_s = 2.1;
  const Suggestion s = suggest_for(job, {vanishing(2.4), vanishing(2.4), vanishing(2.4), vanishing(2.4), fusing(2.3)});
  REQUIRE(s.action == Action::change);
  REQUIRE(s.modelling.size() == 1);
  CHECK(has(s.modelling[0], "Widen the gap on layer"));
  CHECK(has(s.modelling[0], "at x "));
}

TEST_CASE("suggest: levers are short, grouped when alike, and say each thing once") {
  std::vector<Detail> things;
  for (int i = 0; i < 12; ++i) {
    Detail picket = vanishing(9);
    picket.width_mm = i % 2 == 0 ? 0.1 : 0.12;
    picket.from_layer = 31, picket.to_layer = 40;
    things.push_back(picket);
  }
  things.push_back(harmful(flat(0.8), 3));
  things.back().width_mm = 0.3;
  Job job;
  const auto island = [](std::uint32_t layer, double area_mm2, bool held) {
    IslandRow i;
    i.layer = layer, i.area_mm2 = area_mm2, i.volume_mm3 = area_mm2, i.height_mm = 0.05 * (layer - 1);
    i.held_by_fill = held;
    return i;
  };
  job.islands = {island(12, 2, false), island(2, 9, true),   island(14, 0.2, false), island(15, 1, false),
                 island(16, 1, false), island(17, 1, false), island(18, 1, false)};
  const Suggestion s = suggest_for(job, things);
  CHECK(s.tonight.empty());
  REQUIRE(s.modelling.size() == 2);
  CHECK(has(s.modelling[0], "Raise #1: 0."));
  CHECK(has(s.modelling[1], "Thicken #2 and the 11 like it: 0."));
  CHECK(has(s.modelling[1], "mm instead of 0.10 to 0.12 mm."));
  REQUIRE(s.slicing.size() == 6);
  CHECK(has(s.slicing[0], "Put supports under the island on layer 12 (0.6 mm up)"));
  CHECK(has(s.slicing[3], "Likewise under 2 other islands"));
  CHECK(s.slicing[4] == "Put a support under the small island too, or let it go.");
  CHECK(has(s.slicing[5], "Turn the part"));
  for (const auto* list : {&s.tonight, &s.slicing, &s.modelling})
    for (const std::string& lever : *list) CHECK(lever.back() == '.');
  things.back().width_mm = 0.1;  // upright it would close too: at 2.5 s slots do up to about 0.2 mm
  CHECK(suggest_for(job, things).slicing.size() == 5);
  things.back().width_mm = 0.3;
  things.back().harm_mm = 0.5;  // turning the part is no advice for the pickets, which are worse then
  job.islands.clear();
  CHECK(suggest_for(job, things).slicing.empty());
}

TEST_CASE("suggest: on made-up jobs no time at which bulk holds has clearly less at stake, and none loses more") {
  // 200 jobs of up to nine walls, slots and flat gaps, by a fixed sequence (Knuth's MMIX multiplier).
  std::uint64_t state = 12;
  const auto random = [&state](double from, double to) {
    state = state * 6364136223846793005u + 1442695040888963407u;
    return from + (to - from) * static_cast<double>(state >> 11) / 9007199254740992.0;
  };
  int changed = 0;
  for (int n = 0; n < 200; ++n) {
    Job job;
    job.exposure_s = std::round(20 * random(1.9, 3.2)) / 20;
    std::vector<Detail> things;
    for (int i = static_cast<int>(random(0, 9.99)); i > 0; --i) {
      const double critical_s = random(1.2, 5), log_sd = random(0.05, 0.12);
      const Detail thing = i % 3 == 0   ? vanishing(critical_s, log_sd)
                           : i % 3 == 1 ? fusing(critical_s, log_sd)
                                        : flat(critical_s, log_sd);
      things.push_back(harmful(thing, random(0.2, 20)));
    }
    const Suggestion s = suggest_for(job, things);
    CAPTURE(n, job.exposure_s, s.exposure_s, s.text);
    changed += s.action == Action::change;
    CHECK(s.then.expected_mm <= s.now.expected_mm + 1e-6);
    CHECK((s.action == Action::change) == (s.exposure_s != job.exposure_s));
    CHECK((s.exposure_s >= 1.8 - 1e-9 && s.exposure_s <= 3.2 + 1e-9));
    for (const SweepPoint& point : s.sweep) {
      if (point.bulk_chance.value_or(0) >= 0.001) continue;
      const double spared_mm = s.then.expected_mm - point.expected_mm;
      CHECK_FALSE((spared_mm > 2 + 0.05 * s.now.expected_mm &&
                   spared_mm > 0.5 * s.then.expected_mm + 0.05 * s.now.expected_mm));
    }
    if (!s.window_s) continue;
    CHECK((*s.window_s)[1] - (*s.window_s)[0] >= 0.025 * ((*s.window_s)[0] + (*s.window_s)[1]) - 1e-9);
    CHECK(((*s.window_s)[0] <= s.exposure_s && s.exposure_s <= (*s.window_s)[1]));
    for (const Detail& thing : things) {  // avoidable things are safe all through it
      const bool saved =
          thing.fate == Fate::vanish ? *thing.critical_exposure_s < 3.2 : *thing.critical_exposure_s > 1.9;
      for (int i = 0; saved && i <= 5; ++i) {
        const double t = (*s.window_s)[0] + i * ((*s.window_s)[1] - (*s.window_s)[0]) / 5;
        CHECK(chance(thing.fate, *thing.critical_exposure_s, t, thing.log_sd) < 0.05 + 1e-6);
      }
    }
  }
  CHECK(changed > 20);
}
