// The rules of docs/verdicts.md, one row each (their bounds are common practice, no source).
#include "hairline/verdict.hpp"

#include <catch2/catch.hpp>
#include <functional>

using namespace hairline;

namespace {

struct Known {
  std::vector<Detail> details;
  Crumbs crumbs;
  std::vector<Fall> falls;
  std::vector<IslandRow> islands;
  std::uint32_t speck_count = 0;
  BaseReport base;
  double solid_mm3 = 1000;
};

Detail detail(Fate fate, double probability, bool avoidable, double carries_mm3 = 0) {
  Detail d;
  d.id = 1, d.fate = fate, d.from_layer = 811, d.to_layer = 974;
  d.box = {{12, 3, 40.5}, {12.6, 5, 48.7}};
  d.volume_mm3 = 0.4, d.width_mm = 0.09, d.critical_exposure_s = 2.41;
  d.probability = probability, d.avoidable = avoidable, d.carries_mm3 = carries_mm3;
  d.lost_fraction = probability >= 0.5 ? 1 : 0;
  return d;
}
Fall fall(double volume_mm3, bool loose) {
  Fall f;
  f.layer = 31, f.loose = loose, f.volume_mm3 = volume_mm3, f.box = {{1, 1, 1.5}, {2, 2, 3}};
  return f;
}
IslandRow island(double area_mm2, double volume_mm3) {
  IslandRow i;
  i.layer = 301, i.area_mm2 = area_mm2, i.volume_mm3 = volume_mm3, i.height_mm = 15;
  return i;
}
Judgement judged(const Known& k) {
  return judge({k.details, k.crumbs, k.falls, k.islands, k.speck_count, k.base, 2.3, k.solid_mm3});
}

struct Row {
  const char* rule;
  Verdict verdict;
  std::size_t reasons;
  std::function<void(Known&)> set;
};

}  // namespace

TEST_CASE("verdict: every rule by itself") {
  const Row rows[] = {
      {"nothing at all", Verdict::clear, 0, [](Known&) {}},
      {"avoidable, at least 50 %", Verdict::hold, 1, [](Known& k) { k.details = {detail(Fate::vanish, 0.5, true)}; }},
      {"avoidable, a gap", Verdict::hold, 1, [](Known& k) { k.details = {detail(Fate::fuse, 0.83, true)}; }},
      {"avoidable, under 50 %", Verdict::caution, 1, [](Known& k) { k.details = {detail(Fate::vanish, 0.499, true)}; }},
      {"under 50 % although it carries", Verdict::caution, 1,
       [](Known& k) { k.details = {detail(Fate::vanish, 0.3, true, 20)}; }},
      {"not avoidable, carries nothing", Verdict::caution, 1,
       [](Known& k) { k.details = {detail(Fate::vanish, 0.99, false)}; }},
      {"not avoidable, carries 1 mm3", Verdict::caution, 1,
       [](Known& k) { k.details = {detail(Fate::vanish, 0.99, false, 1)}; }},
      {"not avoidable, carries more than 1 mm3", Verdict::hold, 1,
       [](Known& k) { k.details = {detail(Fate::vanish, 0.99, false, 1.01)}; }},
      {"a loose body over 1 mm3", Verdict::hold, 1, [](Known& k) { k.falls = {fall(1.01, true)}; }},
      {"a loose body of 1 mm3", Verdict::clear, 0, [](Known& k) { k.falls = {fall(1, true)}; }},
      {"one that joins later", Verdict::clear, 0, [](Known& k) { k.falls = {fall(5, false)}; }},
      {"an island of 1 mm2", Verdict::hold, 1, [](Known& k) { k.islands = {island(1, 0.1)}; }},
      {"an island of 1 mm3", Verdict::hold, 1, [](Known& k) { k.islands = {island(0.1, 1)}; }},
      {"a small island", Verdict::caution, 1, [](Known& k) { k.islands = {island(0.99, 0.99)}; }},
      {"crumbs", Verdict::caution, 1, [](Known& k) { k.crumbs.vanish = 2, k.crumbs.vanish_mm3 = 0.001; }},
      {"specks", Verdict::caution, 1, [](Known& k) { k.speck_count = 3; }},
      {"may come off the plate", Verdict::hold, 1,
       [](Known& k) {
         k.base.findings = {{"It may come off.", true}};
       }},
      {"base too long", Verdict::caution, 1,
       [](Known& k) {
         k.base.findings = {{"It may weld.", false}};
       }},
      {"more than half of the print is lost", Verdict::hold, 2,
       [](Known& k) {
         k.details = {detail(Fate::vanish, 0.99, false)};
         k.solid_mm3 = 0.5;
       }},
  };
  for (const Row& row : rows) {
    Known known;
    row.set(known);
    const Judgement judgement = judged(known);
    CAPTURE(row.rule);
    CHECK(judgement.verdict == row.verdict);
    CHECK(judgement.reasons.size() == row.reasons);
    for (const std::string& reason : judgement.reasons) CHECK(reason.back() == '.');
  }
}

TEST_CASE("verdict: a reason names layers, height, place and size") {
  Known known;
  known.details = {detail(Fate::vanish, 0.83, true, 14)};
  const Judgement judgement = judged(known);
  REQUIRE(judgement.reasons.size() == 1);
  for (const char* part : {"811", "974", "40.5", "48.7", "x 12.3", "y 4.0", "0.09 mm", "14.0 mm3"}) {
    CAPTURE(part, judgement.reasons[0]);
    CHECK(judgement.reasons[0].find(part) != std::string::npos);
  }
}

TEST_CASE("verdict: reasons to hold come before cautions, and each fate has one sentence") {
  Known known;
  known.speck_count = 1;
  known.base.findings = {{"It may weld.", false}, {"It may come off.", true}};
  known.details = {detail(Fate::vanish, 0.1, true), detail(Fate::vanish, 0.9, true), detail(Fate::vanish, 0.8, true),
                   detail(Fate::fuse, 0.7, true)};
  known.islands = {island(2, 3), island(0.1, 0.1)};
  const Judgement judgement = judged(known);
  CHECK(judgement.verdict == Verdict::hold);
  const auto at = [&](const std::string& words) {
    for (std::size_t i = 0; i < judgement.reasons.size(); ++i)
      if (judgement.reasons[i].find(words) != std::string::npos) return i;
    return judgement.reasons.size();
  };
  REQUIRE(judgement.reasons.size() == 8);
  CHECK(at("will be missing") == 0);
  CHECK(at("1 other part will be missing as well") == 0);
  CHECK(at("will close") == 1);
  CHECK(at("island") == 2);
  CHECK(at("come off") == 3);
  CHECK(at("may fail") > 3);
  CHECK(at("small island") > 3);
  CHECK(at("speck") > 3);
  CHECK(at("weld") > 3);
}

TEST_CASE("verdict: bounds of one's own") {
  Known known;
  known.details = {detail(Fate::vanish, 0.4, true)};
  known.islands = {island(0.6, 0.1)};
  const Judgement strict = judge({known.details, known.crumbs, known.falls, known.islands, 0, known.base, 2.3, 1000},
                                 {.least_chance = 0.3, .least_carried_mm3 = 1, .least_island_mm2 = 0.5});
  CHECK(strict.verdict == Verdict::hold);
  CHECK(strict.reasons.size() == 2);
}
