// Findings about the base, and the base time that is suggested. The bounds (6 to 16 times the normal exposure, a tenth
// of the largest layer, ten times as a target) are common practice, no source; docs/verdicts.md states them.
#include <catch2/catch.hpp>
#include <cmath>

#include "support.hpp"

using namespace hairline;
using plan_test::has;

namespace {

BaseReport base_of(std::uint32_t layers, double base_s, double contact_mm2 = 100, double largest_mm2 = 120) {
  BaseReport base;
  base.base_layers = layers;
  base.base_s = base_s;
  base.exposure_ratio = base_s / 2.5;
  base.contact_mm2 = contact_mm2;
  base.largest_layer_mm2 = largest_mm2;
  base.largest_layer = 7;
  return base;
}
BaseReading reading(double base_s, BaseResult result) {
  BaseReading r;
  r.base_s = base_s, r.layers = 5, r.result = result;
  return r;
}
constexpr auto held = BaseResult::held, lifted = BaseResult::lifted, welded = BaseResult::welded;

}  // namespace

TEST_CASE("base: more than ten base layers, over 1 mm high, are asked about") {
  const auto found = [](std::uint32_t base_layers, double height_mm) {
    BaseReport base = base_of(base_layers, 25);
    judge_base(base, {2.5, 2.5, {}, 0, height_mm});
    return base.findings;
  };
  CHECK(found(5, 0.25).empty());
  CHECK(found(10, 2).empty());
  CHECK(found(40, 1).empty());
  REQUIRE(found(50, 2.5).size() == 1);
  CHECK(has(found(50, 2.5)[0].text, "The 50 base layers are 2.5 mm high"));
  CHECK_FALSE(found(50, 2.5)[0].comes_off);
}

TEST_CASE("base: findings follow the bounds") {
  struct Case {
    const char* name;
    BaseReport base;
    std::size_t findings;
    bool comes_off;         // any of them
    const char* mentioned;  // in the first finding
  };
  const Case cases[] = {
      {"common", base_of(5, 25), 0, false, ""},
      {"six times is enough", base_of(5, 15), 0, false, ""},
      {"just under six times", base_of(5, 14.9), 1, true, "raise it to about 25 s"},
      {"sixteen times is not too much", base_of(5, 40), 0, false, ""},
      {"just over sixteen times", base_of(5, 40.2), 1, false, "lower it to about 25 s"},
      {"no base layer", base_of(0, 2.5), 1, true, "no base layer"},
      {"a tenth is enough", base_of(5, 25, 12), 0, false, ""},
      {"under a tenth", base_of(5, 25, 11.9), 1, true, "layer 7"},
      {"short and small", base_of(5, 10, 5), 2, true, "25 s"},
      {"none and small", base_of(0, 2.5, 5), 2, true, "base layer"},
      {"no layer is the largest", base_of(5, 25, 0, 0), 0, false, ""},
  };
  for (const Case& one : cases) {
    CAPTURE(one.name);
    BaseReport base = one.base;
    judge_base(base, {2.5, 2.5, {}});
    REQUIRE(base.findings.size() == one.findings);
    bool off = false;
    for (const auto& finding : base.findings) {
      off = off || finding.comes_off;
      CHECK(finding.text.back() == '.');
    }
    CHECK(off == one.comes_off);
    if (!base.findings.empty()) CHECK(has(base.findings.front().text, one.mentioned));
  }
}

TEST_CASE("base: an exposure that the job does not state is not judged, its contact with the plate is") {
  BaseReport base = base_of(0, 2.5);
  base.stated = false;
  judge_base(base, {2.5, 2.5, {}});
  CHECK(base.findings.empty());
  base.contact_mm2 = 5;
  judge_base(base, {2.5, 2.5, {}});
  REQUIRE(base.findings.size() == 1);
  CHECK(has(base.findings[0].text, "touches the plate"));
}

TEST_CASE("base: a sound one is left alone, and readings know better than the ratio") {
  CHECK(base_to_set(25, {2.5, 2.5, {}}) == std::nullopt);
  CHECK(base_to_set(15, {2.5, 2.5, {}}) == std::nullopt);
  CHECK(base_to_set(40, {2.5, 2.5, {}}) == std::nullopt);
  CHECK(base_to_set(10, {2.5, 2.5, {reading(10, held)}}) == std::nullopt);
  CHECK(base_to_set(50, {2.5, 2.5, {reading(60, held)}}) == std::nullopt);
  CHECK(base_to_set(10, {2.5, 2.5, {reading(12, held), reading(20, held)}}) == 20);
  BaseReport base = base_of(5, 10);
  judge_base(base, {2.5, 2.5, {reading(10, held)}});
  CHECK(base.findings.empty());
  // Sound at the job's own time (6.2 times), too short at the one that is suggested.
  CHECK(base_to_set(15.5, {2.5, 2.8, {}}) == 28);
}

TEST_CASE("base: ten times the suggested time, unless readings know better") {
  const auto set = [](std::vector<BaseReading> readings) { return base_to_set(5, {2.5, 2.5, std::move(readings)}); };
  CHECK(set({}) == 25);
  CHECK(set({reading(30, held)}) == 30);
  CHECK(set({reading(20, held), reading(40, held)}) == 25);
  CHECK(set({reading(32, held), reading(40, held)}) == 32);
  // Lifted at the target or above it: more, but below what welded.
  CHECK(set({reading(28, lifted)}) > 28);
  CHECK(set({reading(28, lifted), reading(60, welded)}) > 28);
  CHECK(set({reading(28, lifted), reading(60, welded)}) < 60);
  CHECK(set({reading(22, welded)}) < 22);
  CHECK(set({reading(28, lifted), reading(35, held), reading(50, welded)}) == 35);
  // Readings that say nothing against the target leave it alone.
  CHECK(set({reading(10, lifted), reading(60, welded)}) == 25);
}

TEST_CASE("base: no number is advised that does not cure the base itself") {
  // Thick base layers: bulk of them bonds for sure from 66.2 s on, over sixteen times the normal exposure.
  const BaseTimes times{2.5, 2.5, {reading(30, held)}, 66.2};
  for (const double base_s : {4.0, 30.0, 62.0}) CHECK(base_to_set(base_s, times) == 67);
  CHECK(base_to_set(67, times) == std::nullopt);
  for (const double base_s : {30.0, 62.0, 67.0}) {  // never "lower it"
    BaseReport base = base_of(5, base_s);
    judge_base(base, times);
    CHECK(base.findings.empty());
  }
  BaseReport shorter = base_of(5, 4);
  judge_base(shorter, times);
  REQUIRE(shorter.findings.size() == 1);
  CHECK(has(shorter.findings[0].text, "raise it to about 67 s"));
}

TEST_CASE("base: what the suggested time mends is left alone, what it brings about is not") {
  const BaseTimes shorter{4.4, 2.6, {}};  // 25 s is 5.7 times the one, 9.6 times the other
  BaseReport base = base_of(5, 25);
  judge_base(base, shorter);
  CHECK(base.findings.empty());
  CHECK(base_to_set(25, shorter) == std::nullopt);
  judge_base(base, {4.4, 4.4, {}});
  CHECK(base.findings.size() == 1);
  CHECK(base_to_set(25, {4.4, 4.4, {}}) == 44);
  CHECK(base_to_set(25, {2.6, 4.4, {}}) == 44);
}

TEST_CASE("base: the base's worst layer says from when on it cures, where it has the base exposure") {
  const CureModel model = plan_test::model();
  plan_test::Job job;
  RiskContext context = plan_test::context_of(job);
  RiskFound found;
  CHECK(base_bonds_from_s(found, context, 30) == 0);
  found.base_bulk = Bulk{.layer = 2};
  context.layers[1] = {0.6, 30, 0, LayerKind::base, 0.6, 30};
  const double bonds_s = base_bonds_from_s(found, context, 30);  // a chance of 0.1 % lies 3.09 spreads of 5 % away
  CHECK(bonds_s == Approx(1.6 * std::exp((0.6 - model.layer_height_mm) / 0.16 + 3.0902 * 0.05)).epsilon(0.001));
  CHECK(base_bonds_from_s(found, context, 25) == 0);  // a time of its own, by an exception
  context.layers[1].kind = LayerKind::transition;
  CHECK(base_bonds_from_s(found, context, 30) == 0);
}

TEST_CASE("base: suggestion and finding say one number") {
  plan_test::Job job;
  job.exposure_s = 2, job.base_s = 8;
  const Suggestion s = plan_test::suggest_for(job, {plan_test::vanishing(2.2)});
  REQUIRE(s.action == Action::change);
  REQUIRE(s.base_s.has_value());
  CHECK(*s.base_s == Approx(10 * s.exposure_s).margin(0.51));
  BaseReport base = base_of(5, 8);
  judge_base(base, {2, s.exposure_s, {}});
  REQUIRE(base.findings.size() == 1);
  CHECK(has(base.findings[0].text, "about " + std::to_string(static_cast<int>(*s.base_s)) + " s"));
  job.base_s = std::nullopt;
  CHECK_FALSE(plan_test::suggest_for(job, {plan_test::vanishing(2.2)}).base_s.has_value());
}
