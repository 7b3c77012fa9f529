// The rules of docs/verdicts.md, one row each (their bounds are common practice, no source).
#include "hairline/verdict.hpp"

#include <catch2/catch.hpp>
#include <functional>

#include "support.hpp"

using namespace hairline;
using plan_test::has;

namespace {

struct Known {
  plan_test::Job job;
  RiskFound risk;
  std::vector<IslandRow> islands;
  std::vector<FaintPart> faint;
  BaseReport base;
  bool nothing_solid = false, measured_only = false;
  std::uint32_t brightest_value = 255;
  std::vector<std::string> doubts;
  Known() { risk.normal_mm3 = risk.solid_mm3 = 1000; }
  std::vector<LayerRow> layers;
};

Detail detail(Fate fate, State state, double probability, double carries_mm3 = 0) {
  Detail d;
  d.id = 1, d.fate = fate, d.state = state, d.lost = true, d.from_layer = 811, d.to_layer = 974;
  d.box = {{12, 3, 40.5}, {12.6, 5, 48.7}};
  d.volume_mm3 = 0.4, d.width_mm = 0.09, d.critical_exposure_s = 2.41, d.harm_mm = d.extent_mm = 8.3;
  d.probability = probability, d.carries_mm3 = carries_mm3;
  return d;
}
Detail will(Fate fate = Fate::vanish) {
  return detail(fate, State::will, 0.83);
}
Detail may(double probability = 0.3, double carries_mm3 = 0) {
  return detail(Fate::vanish, State::may, probability, carries_mm3);
}
Detail in_base(Detail d) {
  d.base = true, d.critical_exposure_s = std::nullopt, d.from_layer = 2, d.to_layer = 4;
  return d;
}
Detail unavoidable(Detail d) {
  d.avoidable = false;
  return d;
}
Detail rounded(Detail d) {
  d.lost = false;
  return d;
}
// Rows at the job's time of 2.5 s, with nothing lost, and at another one where a part or gap will be.
std::vector<TimeRow> with_loss_at(double exposure_s, Detail lost) {
  std::vector<TimeRow> rows(2);
  rows[0].point.exposure_s = 2.5, rows[1].point.exposure_s = exposure_s;
  lost.log_sd = 0.05;
  (lost.fate == Fate::vanish ? rows[1].point.vanish : rows[1].point.fuse) = 1;
  rows[1].lost = {lost};
  return rows;
}
Fall fall(double volume_mm3, bool loose) {
  Fall f;
  f.layer = 31, f.loose = loose, f.volume_mm3 = volume_mm3, f.box = {{1, 1, 1.5}, {2, 2, 3}};
  f.details = {1, 3, 4, 7, 9};
  return f;
}
IslandRow island(double area_mm2, double volume_mm3, bool held_by_fill = false) {
  IslandRow i;
  i.layer = 301, i.area_mm2 = area_mm2, i.volume_mm3 = volume_mm3, i.height_mm = 15, i.held_by_fill = held_by_fill;
  return i;
}
Bulk bulk(double chance) {
  Bulk b;
  b.layer = 12, b.bond_time_s = 1.6, b.margin = 1.05, b.chance = chance;
  return b;
}
Crumbs deep_crumbs(double deep_mm3, double longest_mm = 0.2) {
  Crumbs crumbs;
  crumbs.deep_mm3 = deep_mm3;
  crumbs.longest = Crumbs::Place{Fate::vanish, 61, 61, {{1, 2, 3}, {1 + longest_mm, 2, 3}}};
  return crumbs;
}
Judgement judged(const Known& k) {
  const RiskContext context = plan_test::context_of(k.job);
  const RiskFound* risk = k.measured_only ? nullptr : &k.risk;
  return judge({risk, k.measured_only ? nullptr : &context, k.islands, k.faint, k.base, k.nothing_solid,
                k.brightest_value, k.doubts, k.layers});
}

struct Row {
  const char* rule;
  Verdict verdict;
  std::size_t reasons;
  std::function<void(Known&)> set;
};

}  // namespace

TEST_CASE("verdict: every rule by itself") {
  const auto clear = Verdict::clear, caution = Verdict::caution, hold = Verdict::hold;
  const double just = 5e-7;  // within the tolerance of 1e-6
  const Row rows[] = {
      {"nothing at all", clear, 0, [](Known&) {}},
      {"a lost part", hold, 1, [](Known& k) { k.risk.details = {will()}; }},
      {"a lost gap", hold, 1, [](Known& k) { k.risk.details = {will(Fate::fuse)}; }},
      {"lost, and no time saves it", hold, 1, [](Known& k) { k.risk.details = {unavoidable(will())}; }},
      {"rounding", clear, 0,
       [](Known& k) {
         k.risk.details = {rounded(will()), rounded(may())};
       }},
      {"may be lost", caution, 1, [](Known& k) { k.risk.details = {may()}; }},
      {"the rim of a lost part", hold, 1,
       [](Known& k) {
         k.risk.details = {will(), may()};
         k.risk.details[1].harm_mm = 0;
       }},
      {"may be lost, and carries 1 mm3 at that chance", caution, 1,
       [=](Known& k) { k.risk.details = {may(0.25, 4 + just)}; }},
      {"may be lost, and carries more", hold, 1, [](Known& k) { k.risk.details = {may(0.25, 4.001)}; }},
      {"a gap that closes at 4 % more", caution, 1,
       [](Known& k) { k.risk.rows = with_loss_at(2.6, will(Fate::fuse)); }},
      {"one that closes at 8 % more", clear, 0, [](Known& k) { k.risk.rows = with_loss_at(2.7, will(Fate::fuse)); }},
      {"1 mm3 that parts which may be lost hold together", clear, 0,
       [](Known& k) {
         k.risk.shared_loads = {{61, {}, 1, 2}};
       }},
      {"more of it", caution, 1,
       [](Known& k) {
         k.risk.shared_loads = {{61, {}, 1.001, 2}};
       }},
      {"a part that is lost at 4 % less", caution, 1, [](Known& k) { k.risk.rows = with_loss_at(2.4, will()); }},
      {"a part that is lost at 4 % more", clear, 0, [](Known& k) { k.risk.rows = with_loss_at(2.6, will()); }},
      {"one that no time saves", clear, 0,
       [](Known& k) { k.risk.rows = with_loss_at(2.6, unavoidable(will(Fate::fuse))); }},
      {"beside what is lost anyway", hold, 1,
       [](Known& k) {
         k.risk.rows = with_loss_at(2.6, will(Fate::fuse));
         k.risk.details = {will()};
       }},
      {"a lost part of the base", hold, 1, [](Known& k) { k.risk.details = {in_base(will())}; }},
      {"a part of the base that may be lost", caution, 1, [](Known& k) { k.risk.details = {in_base(may())}; }},
      {"gaps of the base that close", clear, 0, [](Known& k) { k.base.fuse_mm3 = 20; }},
      {"a fall over 1 mm3", hold, 1, [](Known& k) { k.risk.falls = {fall(1.001, true)}; }},
      {"a fall of 1 mm3", clear, 0, [=](Known& k) { k.risk.falls = {fall(1 + just, true)}; }},
      {"one over 1 mm3 that joins later", hold, 1, [](Known& k) { k.risk.falls = {fall(5, false)}; }},
      {"bulk, 1 %", hold, 1, [=](Known& k) { k.risk.bulk = bulk(0.01 - just); }},
      {"bulk, under 1 %", caution, 1, [](Known& k) { k.risk.bulk = bulk(0.0099); }},
      {"bulk, 0.1 %", caution, 1, [](Known& k) { k.risk.bulk = bulk(0.001); }},
      {"bulk, under 0.1 %", clear, 0, [](Known& k) { k.risk.bulk = bulk(0.00099); }},
      {"bulk of the base, 1 %", hold, 1, [](Known& k) { k.risk.base_bulk = bulk(0.01); }},
      {"bulk of the base, never bonds", hold, 1, [](Known& k) { k.risk.base_bulk = bulk(1); }},
      {"bulk of the base, under 1 %", caution, 1, [](Known& k) { k.risk.base_bulk = bulk(0.005); }},
      {"the print as a whole", hold, 1,
       [](Known& k) {
         k.risk.whole_fails = true, k.risk.uncured_share = 0.9;
         k.risk.bulk = bulk(0.7);
       }},
      {"over 2 % vanish in whatever pieces", hold, 1, [](Known& k) { k.risk.uncured_share = 0.0201; }},
      {"2 % vanish", clear, 0, [](Known& k) { k.risk.uncured_share = 0.02; }},
      {"deep crumbs over 1 mm3", hold, 1, [](Known& k) { k.risk.crumbs = deep_crumbs(1.001); }},
      {"deep crumbs of 1 mm3", caution, 1, [=](Known& k) { k.risk.crumbs = deep_crumbs(1 + just); }},
      {"deep crumbs of 0.01 mm3", caution, 1, [=](Known& k) { k.risk.crumbs = deep_crumbs(0.01 - just); }},
      {"deep crumbs under 0.01 mm3", clear, 0, [](Known& k) { k.risk.crumbs = deep_crumbs(0.0099); }},
      {"a deep crumb of 0.5 mm", caution, 1, [=](Known& k) { k.risk.crumbs = deep_crumbs(0.001, 0.5 - just); }},
      {"a shorter one", clear, 0, [](Known& k) { k.risk.crumbs = deep_crumbs(0.001, 0.49); }},
      {"shallow crumbs and rounding", clear, 0,
       [](Known& k) {
         k.risk.crumbs.vanish = 200, k.risk.crumbs.vanish_mm3 = 0.2;
         k.risk.rounding.fuse = 137, k.risk.rounding.fuse_mm3 = 2.9;
       }},
      {"an island of 1 mm2", hold, 1, [=](Known& k) { k.islands = {island(1 - just, 0.1)}; }},
      {"an island of 1 mm3", hold, 1, [](Known& k) { k.islands = {island(0.1, 1)}; }},
      {"a small island", caution, 1, [](Known& k) { k.islands = {island(0.99, 0.99)}; }},
      {"islands held by fill", clear, 0,
       [](Known& k) {
         k.islands = {island(9, 9, true), island(0.1, 0.1, true)};
       }},
      {"light, but nothing solid", hold, 1, [](Known& k) { k.nothing_solid = true, k.brightest_value = 100; }},
      {"nothing solid is said once", hold, 1, [](Known& k) { k.nothing_solid = k.risk.whole_fails = true; }},
      {"may come off the plate", hold, 1,
       [](Known& k) {
         k.base.findings = {{"It may come off.", true}};
       }},
      {"hard to take off", caution, 1,
       [](Known& k) {
         k.base.findings = {{"It may weld.", false}};
       }},
      {"doubts about the record", caution, 2,
       [](Known& k) {
         k.doubts = {"The record is 90 days old.", "2.30 s lies outside its range."};
       }},
      {"measured only: no record, no risk", clear, 0,
       [](Known& k) {
         k.measured_only = true;
         k.risk.details = {will()};
       }},
      {"measured only: islands count", hold, 1,
       [](Known& k) {
         k.measured_only = true;
         k.islands = {island(2, 2)};
       }},
  };
  for (const Row& row : rows) {
    Known known;
    row.set(known);
    const Judgement judgement = judged(known);
    CAPTURE(row.rule, judgement.reasons);
    CHECK(judgement.verdict == row.verdict);
    CHECK(judgement.reasons.size() == row.reasons);
    for (const std::string& reason : judgement.reasons) CHECK(reason.back() == '.');
  }
}

TEST_CASE("verdict: sentences as they are read") {
  const auto only = [](const std::function<void(Known&)>& set) {
    Known known;
    set(known);
    const Judgement judgement = judged(known);
    REQUIRE(judgement.reasons.size() == 1);
    return judgement.reasons[0];
  };
  CHECK(only([](Known& k) { k.risk.details = {detail(Fate::vanish, State::will, 0.83, 14)}; }) ==
        "A part 0.09 mm thin will be missing on layers 811 to 974 (40.5 to 48.7 mm up), at x 12.3, y 4.0 mm (#1), and "
        "14.0 mm3 hang on it.");
  CHECK(only([](Known& k) {
          k.risk.details = {will(Fate::fuse), will(Fate::fuse), will(Fate::fuse)};
          k.risk.details[0].welds = true;
        }) ==
        "A gap 0.09 mm wide will close and weld two pieces together on layers 811 to 974 (40.5 to 48.7 mm up), at x "
        "12.3, y "
        "4.0 mm (#1). So will 2 other gaps.");
  CHECK(only([](Known& k) {
          k.risk.details = {will(Fate::fuse)};
          k.risk.details[0].shuts = true;
        }) ==
        "A gap 0.09 mm wide will close and shut a way through on layers 811 to 974 (40.5 to 48.7 mm up), at x 12.3, y "
        "4.0 mm (#1).");
  CHECK(only([](Known& k) {
          k.risk.details = {may(0.31), may(0.07)};
        }) ==
        "A part 0.09 mm thin may be missing (chance 31 %) on layers 811 to 974 (40.5 to 48.7 mm up), at x 12.3, y 4.0 "
        "mm (#1). So may 1 other part.");
  CHECK(
      has(only([](Known& k) { k.risk.details = {in_base(will())}; }), "will be missing in the base, on layers 2 to 4"));
  CHECK(only([](Known& k) {
          k.risk.falls = {fall(14, true), fall(2, false), fall(0.5, true)};
        }) ==
        "A body of 14.0 mm3 comes loose on layer 31 (1.5 mm up), at x 1.5, y 1.5 mm: what holds it will be missing "
        "(#1, #3, #4 and 2 more). 1 other falls as well.");
  CHECK(only([](Known& k) { k.risk.bulk = bulk(0.164); }) ==
        "The print as a whole may fail (chance 16 %): layer 12 (0.6 mm up) gets 1.68 s and needs 1.60 s, give or "
        "take some per cent, to cure through. Expose longer.");
  CHECK(only([](Known& k) {
          k.islands = {island(1.2, 3), island(2, 9), island(1, 1)};
          k.islands[1].joins_layer = 377;
        }) ==
        "An island of 2.00 mm2 starts in mid-resin on layer 301 (15.0 mm up), at x 0.0, y 0.0 mm, and hangs on nothing "
        "until layer 377. 2 others are like it.");
  CHECK(only([](Known& k) { k.nothing_solid = true, k.brightest_value = 100; }) ==
        "Nothing is solid in the normal layers: the masks are grey (100 of 255 at most). Export them with all solid in "
        "white.");
}

TEST_CASE("verdict: a print that fails as a whole says why: time, layer height, or grey masks") {
  Known known;
  known.risk.whole_fails = true, known.risk.uncured_share = 0.9;
  Bulk low = bulk(0.9);
  low.margin = 0.9;
  known.risk.bulk = low;
  CHECK(judged(known).reasons ==
        std::vector<std::string>{"The print as a whole fails: layer 12 (0.6 mm up) gets 1.44 s and needs 1.60 s at "
                                 "least to cure through. The time is too short."});
  known.job.height_mm = 0.2;
  low.bond_time_s = 4.09, low.margin = 2.5 / 4.09;
  known.risk.bulk = low;
  CHECK(has(judged(known).reasons[0], "Layers of 0.20 mm are too thick for this time."));
  low.margin = 1.5 / 4.09;  // too short at the record's own height as well
  known.risk.bulk = low;
  CHECK(has(judged(known).reasons[0], "The time is too short."));
  known.brightest_value = 150;
  known.risk.bulk.reset();
  REQUIRE(judged(known).reasons.size() == 1);
  CHECK(judged(known).reasons[0] ==
        "The print as a whole does not cure at 2.50 s: the masks are grey (150 of 255 at most). Export them with all "
        "solid in white.");
  known.brightest_value = 255;
  CHECK(has(judged(known).reasons[0], "More than half of the print does not cure"));
  known.risk.base_bulk = bulk(0.99);  // what does not cure is the base, and that is said
  REQUIRE(judged(known).reasons.size() == 1);
  CHECK(has(judged(known).reasons[0], "The base does not cure (chance 99 %)"));
  known.risk.base_bulk.reset();
  known.risk.whole_fails = false, known.risk.uncured_share = 0.3, known.brightest_value = 150;
  CHECK(judged(known).reasons[0] ==
        "30 % of the print does not cure at 2.50 s: the masks are grey (150 of 255 at most). Export them with all "
        "solid in white.");
}

TEST_CASE("verdict: where most of the print may go it is at stake as bulk is, and is no mere caution") {
  Known known;
  Detail most = may(0.42);
  most.volume_mm3 = 501;
  known.risk.details = {most};
  known.brightest_value = 165;
  CHECK(judged(known).verdict == Verdict::hold);
  CHECK(judged(known).reasons[0] ==
        "More than half of the print may not cure at 2.50 s (chance 42 %): the masks are grey (165 of 255 at most). "
        "Export them with all solid in white.");
  known.brightest_value = 255;
  CHECK(has(judged(known).reasons[0], "(chance 42 %): it is too thin for this time."));
  Known sure = known;
  sure.risk.uncured_share = 0.56;  // said once
  CHECK(judged(sure).reasons[0] == "56 % of the print does not cure at 2.50 s: it is too thin for this time.");
  for (std::size_t i = 1; i < judged(sure).reasons.size(); ++i) CHECK_FALSE(has(judged(sure).reasons[i], "cure"));
  known.risk.details[0].volume_mm3 = 499;
  CHECK(judged(known).verdict == Verdict::caution);
  known.risk.details[0].volume_mm3 = 600, known.risk.details[0].fate = Fate::fuse;  // a gap is no part of the print
  CHECK(judged(known).verdict == Verdict::caution);
}

TEST_CASE("verdict: a wide part that is grey in the masks is not called thin") {
  Known known;
  Detail grey = will();  // 2 x 2 x 1.5 mm at grey 150: as dim as a wall of 0.09 mm (blur 0.06 mm), but not thin
  grey.critical_exposure_s = 1.6 * 255 / 150, grey.box = {{4, 4, 1.5}, {6, 6, 3}}, grey.volume_mm3 = 6;
  grey.width_mm = wall_limit_mm(plan_test::model(), *grey.critical_exposure_s);
  known.risk.details = {grey};
  CHECK(is_grey(grey, plan_test::model()));
  CHECK(has(judged(known).reasons[0], "A part that is grey in the masks will be missing on layers 811 to 974"));
  Detail measured = grey;  // a wall of this width was found in it
  measured.width_mm = 0.09;
  CHECK_FALSE(is_grey(measured, plan_test::model()));
  Detail strip = grey;
  strip.box.to.x = 4.2;
  CHECK_FALSE(is_grey(strip, plan_test::model()));
  Detail loose = grey;  // bars and nothing between them
  loose.volume_mm3 = 2.9;
  CHECK_FALSE(is_grey(loose, plan_test::model()));
  CHECK_FALSE(is_grey(in_base(grey), plan_test::model()));
}

TEST_CASE("verdict: gravest first, reasons to hold before cautions, will and may never in one sentence") {
  Known known;
  known.base.findings = {{"It may weld.", false}, {"It may come off.", true}};
  known.risk.details = {will(), will(), will(Fate::fuse), may(), may(0.25, 40)};
  known.risk.falls = {fall(3, true)};
  known.risk.bulk = bulk(0.02);
  known.risk.crumbs = deep_crumbs(0.5);
  known.islands = {island(2, 3), island(0.1, 0.1)};
  known.doubts = {"The record is 90 days old."};
  const Judgement judgement = judged(known);
  CHECK(judgement.verdict == Verdict::hold);
  const char* order[] = {"as a whole may fail", "come off",       "comes loose",
                         "will be missing",     "will close",     "40.0 mm3 hang on it",
                         "An island",           "may be missing", "too small to list",
                         "A small island",      "may weld",       "90 days old"};
  std::size_t at = 0;
  for (const char* words : order) {
    CAPTURE(words, judgement.reasons);
    while (at < judgement.reasons.size() && !has(judgement.reasons[at], words)) ++at;
    CHECK(at < judgement.reasons.size());
  }
  for (const std::string& reason : judgement.reasons) {
    CAPTURE(reason);
    if (has(reason, "(#") && has(reason, "may")) CHECK_FALSE(has(reason, "will"));
  }
}

namespace {

// A tower of 50 mm2, with these layers empty.
std::vector<LayerRow> tower(const std::vector<std::uint32_t>& empty = {}) {
  std::vector<LayerRow> rows(40);
  for (LayerRow& row : rows) {
    row.layer = static_cast<std::uint32_t>(&row - rows.data()) + 1;
    row.solid_mm2 = row.contact_mm2 = 50;
    row.pieces = 1;
  }
  for (const std::uint32_t layer : empty) {
    rows[layer - 1].solid_mm2 = rows[layer - 1].contact_mm2 = 0;
    if (layer < rows.size()) rows[layer].contact_mm2 = 0;
    rows[layer - 1].pieces = 0;
  }
  return rows;
}

}  // namespace

TEST_CASE("verdict: a picture that fits neither neighbour is said first") {
  const auto first = [](const std::vector<LayerRow>& rows) {
    Known known;
    known.doubts = {"The record is old."};
    known.layers = rows;
    return judged(known).reasons.at(0);
  };
  const char* mixed_up =
      "Layer 21 is like neither neighbour, while those are like each other, as if a picture was mixed up: export the "
      "job again, unless that is meant.";
  std::vector<LayerRow> rows = tower();
  CHECK(wrong_layers(rows, {}).none());
  rows[20].solid_mm2 = 600;  // a white picture: what its neighbours have, it has too
  CHECK(first(rows) == mixed_up);
  rows[20].solid_mm2 = 120;  // a rail that joins what stands
  CHECK(wrong_layers(rows, {}).none());
  rows[20].contact_mm2 = 40;  // it lacks some of what stands below
  CHECK(first(rows) == mixed_up);
  rows[20].solid_mm2 = 50;  // a picture of another place
  rows[20].contact_mm2 = rows[21].contact_mm2 = 10;
  CHECK(first(rows) == mixed_up);
  rows[20].solid_mm2 = 10;  // a flat slot on feet
  CHECK(wrong_layers(rows, {}).none());
  rows = tower();
  for (const std::size_t i : {10u, 20u, 30u, 35u}) rows[i].solid_mm2 = 600;  // decks
  CHECK(wrong_layers(rows, {}).none());
  rows = tower();
  for (std::size_t i = 20; i < 40; ++i) rows[i].solid_mm2 = 20, rows[i].contact_mm2 = 20;  // a step
  CHECK(wrong_layers(rows, {}).none());
  CHECK(wrong_layers(tower({36, 37, 38, 39, 40}), {}).none());
  rows = tower({31, 32, 36});  // two wires of a pixel or two: what is thinner than that comes and goes
  for (const std::size_t i : {29u, 32u, 33u, 34u, 36u}) rows[i].pieces = 2, rows[i].solid_mm2 = 0.01;
  CHECK(wrong_layers(rows, {}).none());
  rows[34].solid_mm2 = 3;
  CHECK(wrong_layers(rows, {}).empty == std::vector<std::uint32_t>{36});
  CHECK(wrong_layers(rows, {{36, 36, {}}}).none());  // something faint is on it
}

TEST_CASE("verdict: what is thinner than a pixel is said, with the place of the tallest") {
  Known known;
  known.faint = {{21, 40, {{1, 2, 1}, {1.1, 2.1, 2}}}};
  const Judgement one = judged(known);
  CHECK(one.verdict == Verdict::caution);
  REQUIRE(one.reasons.size() == 1);
  CHECK(one.reasons[0] ==
        "A part on layers 21 to 40 (1.0 to 2.0 mm up), at x 1.1, y 2.0 mm is thinner than a pixel, only grey in the "
        "masks: hardly anything of it will cure.");
  known.faint.push_back({21, 60, {{3, 2, 1}, {3.1, 2.1, 3}}});
  CHECK(judged(known).reasons[0] ==
        "2 parts are thinner than a pixel, only grey in the masks: hardly anything of them will cure (the tallest: "
        "layers 21 to 60 (1.0 to 3.0 mm up), at x 3.0, y 2.0 mm).");
  known.measured_only = true;
  CHECK(judged(known).verdict == Verdict::caution);
  CHECK(has(judged(known).reasons[0], "Draw such parts thicker."));
}

TEST_CASE("verdict: layers without anything solid below the last one are said first") {
  Known known;
  known.doubts = {"The record is old."};
  const auto first = [&](const std::vector<std::uint32_t>& empty) {
    known.layers = tower(empty);
    return judged(known).reasons.at(0);
  };
  CHECK(first({31}) == "Layer 31 is empty, with the print going on above: export the job again, unless that is meant.");
  CHECK(judged(known).verdict == Verdict::caution);
  CHECK(first({1, 2}).starts_with("Layers 1 and 2 are empty, with"));
  CHECK(first({7, 8, 9}).starts_with("Layers 7 to 9 are empty, with"));
  CHECK(first({7, 9}).starts_with("2 layers from 7 to 9 are empty, with"));
  known.islands = {island(2, 2)};
  CHECK(first({31}).starts_with("Layer 31 is empty"));
  CHECK(judged(known).verdict == Verdict::hold);
  CHECK(first({}).starts_with("An island"));
}
