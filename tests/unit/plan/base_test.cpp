// Findings about the base, and the base time that is suggested. The bounds (6 to 16 times the normal exposure, a tenth
// of the largest layer, ten times as a target) are common practice, no source; docs/verdicts.md states them.
#include <catch2/catch.hpp>

#include "hairline/verdict.hpp"
#include "support.hpp"

using namespace hairline;

namespace {

BaseReport base_of(std::uint32_t layers, double base_s, double normal_s, double contact_mm2, double largest_mm2) {
  BaseReport base;
  base.base_layers = layers;
  base.base_s = base_s;
  base.exposure_ratio = base_s / normal_s;
  base.contact_mm2 = contact_mm2;
  base.largest_layer_mm2 = largest_mm2;
  base.largest_layer = 7;
  return base;
}

struct Case {
  const char* name;
  std::uint32_t layers;
  double base_s, contact_mm2, largest_mm2;
  std::size_t findings;
  bool comes_off;         // any of them
  const char* mentioned;  // in the first finding
};

}  // namespace

TEST_CASE("base: findings follow the bounds") {
  const double normal_s = 2.5;
  const Case cases[] = {
      {"common", 5, 25, 100, 120, 0, false, ""},
      {"six times is enough", 5, 15, 100, 120, 0, false, ""},
      {"just under six times", 5, 14.9, 100, 120, 1, true, "25 s"},
      {"sixteen times is not too much", 5, 40, 100, 120, 0, false, ""},
      {"just over sixteen times", 5, 40.2, 100, 120, 1, false, "25 s"},
      {"no base layer", 0, 2.5, 100, 120, 1, true, "no base layer"},
      {"a tenth is enough", 5, 25, 12, 120, 0, false, ""},
      {"under a tenth", 5, 25, 11.9, 120, 1, true, "layer 7"},
      {"short and small", 5, 10, 5, 120, 2, true, "25 s"},
      {"none and small", 0, 2.5, 5, 120, 2, true, "base layer"},
      {"no layer is the largest", 5, 25, 0, 0, 0, false, ""},
  };
  for (const Case& one : cases) {
    CAPTURE(one.name);
    BaseReport base = base_of(one.layers, one.base_s, normal_s, one.contact_mm2, one.largest_mm2);
    judge_base(base, normal_s);
    REQUIRE(base.findings.size() == one.findings);
    bool off = false;
    for (const auto& finding : base.findings) {
      off = off || finding.comes_off;
      CHECK(finding.text.size() > 40);  // a sentence, which names what to change
      CHECK(finding.text.back() == '.');
    }
    CHECK(off == one.comes_off);
    if (!base.findings.empty()) CHECK(base.findings.front().text.find(one.mentioned) != std::string::npos);
  }
}

TEST_CASE("base: bounds of one's own") {
  BaseReport base = base_of(5, 25, 2.5, 30, 120);
  judge_base(base, 2.5, {.least_ratio = 11, .most_ratio = 16, .least_share = 0.3});
  REQUIRE(base.findings.size() == 2);
  CHECK(base.findings[0].comes_off);
  CHECK(base.findings[1].comes_off);
}

TEST_CASE("base: ten times the suggested time, unless readings know better") {
  const auto held = BaseResult::held;
  const auto lifted = BaseResult::lifted, welded = BaseResult::welded;
  const auto suggested = [](std::vector<BaseReading> readings) {
    plan_test::Job job;
    job.base_readings = std::move(readings);
    // A wall and a slot whose window is 2 to 3.125 s: the even time is 2.5 s, ten times that is 25 s.
    const Suggestion s = plan_test::suggest_for(job, {plan_test::vanishing(2), plan_test::fusing(3.125)});
    REQUIRE(s.exposure_s == Approx(2.5));
    REQUIRE(s.base_s.has_value());
    return *s.base_s;
  };
  const auto reading = [](double base_s, BaseResult result) {
    BaseReading r;
    r.base_s = base_s, r.layers = 5, r.result = result;
    return r;
  };
  CHECK(suggested({}) == Approx(25));
  CHECK(suggested({reading(30, held)}) == Approx(30));
  CHECK(suggested({reading(20, held)}) == Approx(20));
  CHECK(suggested({reading(20, held), reading(40, held)}) == Approx(25));
  CHECK(suggested({reading(32, held), reading(40, held)}) == Approx(32));
  // Lifted at the target or above it: more, but below what welded.
  CHECK(suggested({reading(28, lifted)}) > 28);
  const double between = suggested({reading(28, lifted), reading(60, welded)});
  CHECK(between > 28);
  CHECK(between < 60);
  CHECK(suggested({reading(22, welded)}) < 22);
  CHECK(suggested({reading(28, lifted), reading(35, held), reading(50, welded)}) == Approx(35));
  // Readings that say nothing against the target leave it alone.
  CHECK(suggested({reading(10, lifted), reading(60, welded)}) == Approx(25));
}
