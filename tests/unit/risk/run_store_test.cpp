// Lots of critical runs against their definition at each time, and runs found again in boxes.
#include "risk/run_store.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <tuple>

#include "risk/runs_near.hpp"
#include "support/random.hpp"

using namespace hairline;
using namespace hairline::risk;
using hairline::test::Random;

namespace {

// Runs of a 100 x 40 layer, sorted, with gaps between them.
std::vector<CriticalRun> random_runs(Random& random) {
  std::vector<CriticalRun> runs;
  for (std::uint32_t row = 0; row < 40; ++row) {
    for (std::uint32_t col = random.below(30); col < 95; col += random.between(1, 30)) {
      const std::uint32_t end = random.between(col + 1, col + 5);
      runs.push_back({row, col, end, static_cast<float>(random.between_real(0.5, 6))});
      col = end;
    }
  }
  return runs;
}

// Solid is lost below its critical exposure, a gap from it on; either may be up to `least_z` spreads beside it.
Lot lot_by_definition(Fate fate, const RiskRun& run, double least_z, double time_s) {
  const double beyond = fate == Fate::vanish ? std::log(static_cast<double>(run.critical_s) / time_s)
                                             : std::log(time_s / static_cast<double>(run.critical_s));
  if (fate == Fate::vanish ? beyond > 0 : beyond >= 0) return Lot::will;
  return beyond >= least_z * static_cast<double>(run.log_sd) ? Lot::may : Lot::stays;
}

}  // namespace

TEST_CASE("run store: lots at every time, and the runs that are never at risk left out") {
  for (const Fate fate : {Fate::vanish, Fate::fuse}) {
    Random random(7);
    Certainty certainty;
    certainty.dose_spread = 0.08;
    LotRule rule;
    rule.least_z = -1.645;  // 5 % of a normal law
    for (double time_s = 1.5; time_s < 3.2; time_s += 0.1) rule.times_s.push_back(time_s);
    const std::vector<CriticalRun> runs = random_runs(random);
    const std::vector<RiskRun> found = risk_runs(fate, runs, certainty, 0, rule, {});
    std::size_t next = 0, wrong = 0;
    for (const CriticalRun& run : runs) {
      RiskRun expected;
      expected.critical_s = run.critical_s, expected.log_sd = 0.08f;
      bool at_risk = false;
      for (const double time_s : rule.times_s)
        at_risk = at_risk || lot_by_definition(fate, expected, rule.least_z, time_s) != Lot::stays;
      if (!at_risk) continue;
      REQUIRE(next < found.size());
      const RiskRun& one = found[next++];
      CHECK(one.log_sd == Approx(0.08));
      wrong += one.row != run.row || one.begin != run.begin || one.end != run.end || one.critical_s != run.critical_s;
      for (std::uint32_t i = 0; i < rule.times_s.size(); ++i)
        wrong += lot_at(fate, one.lots, i) != lot_by_definition(fate, expected, rule.least_z, rule.times_s[i]);
    }
    CHECK(next == found.size());
    CHECK(next < runs.size());
    CHECK(wrong == 0);
  }
}

TEST_CASE("run store: a run has the narrowest of the thin places in it") {
  LotRule rule;
  rule.times_s = {1};
  const std::vector<CriticalRun> runs = {{2, 5, 9, 3}, {2, 9, 12, 3}, {4, 0, 3, 3}};
  const std::vector<ThinPlace> thin = {{1, 6, 0.1f}, {2, 4, 0.05f},  {2, 5, 0.3f},
                                       {2, 8, 0.2f}, {2, 12, 0.01f}, {4, 2, 0.4f}};
  const std::vector<RiskRun> found = risk_runs(Fate::vanish, runs, {}, 0, rule, thin);
  REQUIRE(found.size() == 3);
  CHECK(found[0].width_mm == 0.2f);
  CHECK(std::isinf(found[1].width_mm));
  CHECK(found[2].width_mm == 0.4f);
}

TEST_CASE("run store: packed runs come back as they were, in pieces where they are long") {
  // Some longer than a block of columns, rows without any, and many that share little with each other.
  Random random(5);
  std::vector<RiskRun> runs;
  for (std::uint32_t row = 3; row < 12; row += random.between(1, 3)) {
    for (std::uint32_t col = random.below(90); col < 4000; col += random.between(1, 40)) {
      const std::uint32_t end = random.between(col + 1, col + (random.chance(0.1) ? 1500 : 20));
      const auto sd = static_cast<float>(random.below(100));
      runs.push_back({{sd, 2 * sd, INFINITY, 3 * sd}, row, col, end, static_cast<float>(col), {1, 2}});
      col = end;
    }
  }
  const PackedRuns packed(runs);
  std::size_t wrong = 0;
  std::vector<std::uint64_t> seen(runs.size(), 0);
  std::pair<std::uint32_t, std::uint32_t> last{0, 0};
  packed.each([&](const RiskRun& piece) {
    const auto own = std::find_if(runs.begin(), runs.end(), [&](const RiskRun& run) {
      return run.row == piece.row && run.begin <= piece.begin && piece.end <= run.end;
    });
    wrong += own == runs.end() || own->critical_s != piece.critical_s || own->log_sd != piece.log_sd ||
             own->blur_slope != piece.blur_slope || own->width_mm != piece.width_mm ||
             own->height_mm != piece.height_mm || !(own->lots == piece.lots);
    if (own != runs.end()) seen[static_cast<std::size_t>(own - runs.begin())] += piece.end - piece.begin;
    const std::pair place{piece.row, piece.end};
    wrong += place <= last;
    last = place;
  });
  CHECK(wrong == 0);
  for (std::size_t i = 0; i < runs.size(); ++i) CHECK(seen[i] == runs[i].end - runs[i].begin);

  std::uint64_t expected = 0, found = 0;  // pixels of columns 700 to 1300 of rows 4 to 8
  const auto within = [](const RiskRun& run) {
    return static_cast<std::uint64_t>(
        std::max(0, std::min<int>(static_cast<int>(run.end), 1300) - std::max<int>(static_cast<int>(run.begin), 700)));
  };
  for (const RiskRun& run : runs) expected += run.row >= 4 && run.row < 8 ? within(run) : 0;
  packed.each(700, 4, 1300, 8, [&](const RiskRun& piece) { found += within(piece); });
  CHECK(found == expected);
}

TEST_CASE("run store: boxes give the runs that meet them, before and after the rest is dropped") {
  Random random(11);
  LotRule rule;
  rule.times_s = {2, 3};
  RunStore store;
  std::vector<std::vector<RiskRun>> all(6);  // by layer
  for (std::uint32_t n = 5; n >= 1; --n) {
    StoredLayer layer;
    layer.number = n;
    layer.vanish = all[n] = risk_runs(Fate::vanish, random_runs(random), {}, 0, rule, {});
    store.add(std::move(layer));
  }
  std::vector<BoxVoxels> boxes;
  for (int i = 0; i < 6; ++i) {
    const int x0 = static_cast<int>(random.below(90)) - 5, y0 = static_cast<int>(random.below(35)) - 5;
    const std::uint32_t from = random.between(1, 5);
    boxes.push_back({x0, y0, x0 + 8, y0 + 6, from, random.between(from, 6)});
  }
  for (const bool pruned : {false, true}) {
    if (pruned) store.prune(1, boxes, {});
    for (const BoxVoxels& box : boxes) {
      for (const std::uint32_t time : {0u, 1u}) {
        std::size_t expected = 0, seen = 0;
        for (std::uint32_t n = box.from_layer; n <= std::min(box.to_layer, 5u); ++n)
          for (const RiskRun& run : all[n])
            expected += static_cast<int>(run.row) >= box.y0 &&
                        static_cast<int>(run.row)<box.y1&& static_cast<int>(run.end)> box.x0 &&
                        static_cast<int>(run.begin) < box.x1 && lot_at(Fate::vanish, run.lots, time) != Lot::stays;
        RunsNear(store, Fate::vanish, box).each(time, box, [&](const StoredLayer& layer, const RiskRun& run, Lot lot) {
          CHECK(store.find(layer.number) == &layer);
          CHECK(lot == lot_at(Fate::vanish, run.lots, time));
          ++seen;
        });
        CHECK(seen == expected);
      }
    }
  }
  CHECK(store.pruned_to() == 2);
  CHECK(store.find(6) == nullptr);
}

TEST_CASE("run store: a copy of a box says of any box inside it what a copy of that says") {
  using Told = std::tuple<std::uint32_t, std::uint32_t, std::uint32_t, std::uint32_t, float, float, float, Lot>;
  Random random(23);
  LotRule rule;
  rule.times_s = {1.5, 2, 3};
  RunStore store;
  for (std::uint32_t n = 5; n >= 1; --n) {
    const std::vector<CriticalRun> solid = random_runs(random), gaps = random_runs(random);
    std::vector<ThinPlace> thin;
    for (const CriticalRun& run : gaps)
      if (random.chance(0.5)) thin.push_back({run.row, run.begin, static_cast<float>(random.between_real(0.1, 0.3))});
    StoredLayer layer;
    layer.number = n;
    layer.vanish = risk_runs(Fate::vanish, solid, {}, 0, rule, {});
    layer.fuse = risk_runs(Fate::fuse, gaps, {}, 0, rule, thin);
    store.add(std::move(layer));
  }
  const BoxVoxels wide{-4, -3, 80, 35, 1, 6};  // one layer more than there are
  std::size_t told = 0;
  for (const Fate fate : {Fate::vanish, Fate::fuse}) {
    const RunsNear near(store, fate, wide);
    for (int i = 0; i < 40; ++i) {
      const int x0 = static_cast<int>(random.below(60)) - 4, y0 = static_cast<int>(random.below(25)) - 3;
      const std::uint32_t from = random.between(1, 5), time = random.below(3);
      const BoxVoxels box{x0, y0, x0 + 20, y0 + 10, from, random.between(from, 6)};
      std::vector<Told> of_store, of_copy;
      const auto into = [](std::vector<Told>& list) {
        return [&list](const StoredLayer& layer, const RiskRun& run, Lot lot) {
          list.emplace_back(layer.number, run.row, run.begin, run.end, run.critical_s, run.log_sd, run.width_mm, lot);
        };
      };
      RunsNear(store, fate, box).each(time, box, into(of_store));
      near.each(time, box, into(of_copy));
      CHECK(of_copy == of_store);
      told += of_store.size();
    }
  }
  CHECK(told > 500);
}
