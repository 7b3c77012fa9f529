// Details of random stacks against the dense judge (tests/support/detail_judge.hpp): the same sets, and the same
// numbers for each. The tolerances are the project's own. Times are chosen so that no voxel lies within a
// ten-thousandth of a threshold, for the engine works in single precision.
#include <catch2/catch.hpp>
#include <cmath>

#include "job_run.hpp"
#include "stacks.hpp"
#include "support/detail_judge.hpp"

using namespace hairline;

namespace {

// Does no voxel lie close to a limit between states at this time? Margins in ln(time): 0 (will) and 1.645 spreads
// (may).
bool apart(const twin::Input& input, const referee::Voxels& voxels, double exposure_s) {
  const double may = 1.6448536269514722 * input.dose_spread;
  const std::size_t layer_size = voxels.solid.values.size() / voxels.solid.layers;
  for (std::size_t i = 0; i < voxels.solid.values.size(); ++i) {
    const PrintedLayer& printed = input.plans[i / layer_size];
    const bool solid = voxels.solid.values[i] != 0;
    if (solid && !voxels.thin.values[i]) continue;
    if (!solid && !std::isfinite(voxels.fuse_s.values[i])) continue;
    const double time_s = !solid || printed.kind == LayerKind::normal ? exposure_s : printed.time_s(exposure_s);
    const double margin = std::log(solid ? voxels.vanish_s.values[i] / time_s : time_s / voxels.fuse_s.values[i]);
    if (std::abs(margin) < 1e-4 || std::abs(margin + may) < 1e-4) return false;
  }
  return true;
}

struct Times {
  twin::Input input;
  referee::Voxels voxels;
  std::vector<double> clear_s;
};

Times times_of(const stacks::Case& drawn) {
  Times out{stacks::input_of(drawn, 2.4), {}, {}};
  out.voxels = referee::voxels_of(twin::expose(out.input));
  const double bond_s = drawn.model.bond_time_s;
  for (const double from_s : {1.3 * bond_s, 1.8 * bond_s, 2.6 * bond_s})
    for (int i = 0; i < 200; ++i) {
      if (!apart(out.input, out.voxels, from_s * (1 + 0.0003 * i))) continue;
      out.clear_s.push_back(from_s * (1 + 0.0003 * i));
      break;
    }
  return out;
}

bool same_place(const Detail& found, const referee::Detail& d, Pitch pitch) {
  return (found.fate == Fate::vanish) == d.vanish && (found.state == State::will) == d.will && found.base == d.base &&
         found.from_layer == d.from_layer && found.to_layer == d.to_layer &&
         std::abs(found.box.from.x - d.box.x0 * pitch.x_mm) < 1e-6 &&
         std::abs(found.box.to.x - d.box.x1 * pitch.x_mm) < 1e-6 &&
         std::abs(found.box.from.y - d.box.y0 * pitch.y_mm) < 1e-6 &&
         std::abs(found.box.to.y - d.box.y1 * pitch.y_mm) < 1e-6 &&
         std::abs(found.volume_mm3 - d.volume_mm3) <= 0.01 * d.volume_mm3;
}

// Values this close to a threshold of the rule may fall either way.
bool near_threshold(const referee::Detail& d) {
  const auto near = [](double value, double bound) { return std::abs(value - bound) < 0.02 * bound; };
  return near(d.depth_mm, 0.1) || (d.share && near(*d.share, 0.3)) || (d.reach_mm && near(*d.reach_mm, 0.5)) ||
         near(d.carries_mm3, 0.1);
}

struct Count {
  int stacks = 0, failing = 0, details = 0, lost = 0, welds = 0, carrying = 0, base = 0, unclear = 0, forks = 0;
};

void compare(const Detail& found, const referee::Detail& d, Count& count) {
  CAPTURE(d.vanish, d.will, d.base, d.from_layer, d.to_layer, d.box.x0, d.box.y0, d.box.x1, d.box.y1, d.volume_mm3,
          d.depth_mm, d.share.value_or(-1), d.reach_mm.value_or(-1), d.welds, d.cavity, d.carries_mm3);
  CHECK(found.critical_exposure_s.has_value() == !d.base);
  if (found.critical_exposure_s) CHECK(*found.critical_exposure_s == Approx(d.critical_s).epsilon(0.005));
  CHECK(found.extent_mm == Approx(d.extent_mm).epsilon(1e-6));
  CHECK(found.depth_mm == Approx(d.depth_mm).epsilon(0.02).margin(1e-9));
  if (found.share && d.share) CHECK(*found.share == Approx(*d.share).margin(0.02));
  if (d.share && !near_threshold(d)) CHECK(found.share.has_value());
  // What lies between one piece of each layer, joined right beside it, is not looked at: a fork of one piece whose
  // tines are joined further off than 5 blur is the exception.
  if (found.welds != d.welds) {
    CHECK(d.welds);
    ++count.forks;
    return;
  }
  // A body that may go in part is weighed whole, and falls whole.
  if (d.carries_unclear || (d.drops && !d.will)) return;  // what hangs on what can be read in two ways here
  CHECK(found.carries_mm3 == Approx(d.carries_mm3).epsilon(0.04).margin(0.006));
  if (near_threshold(d)) return;
  CHECK(found.lost == d.lost);
  CHECK((!found.shuts || d.shuts));
  if (!found.lost) return;
  if (d.shadowed) CHECK(found.harm_mm == 0);
  if (!d.shadowed) CHECK(found.harm_mm >= d.extent_mm - 1e-6);
}

void check_at(const stacks::Case& drawn, const Times& times, double exposure_s, Count& count) {
  twin::Input input = times.input;
  input.exposure_s = exposure_s;
  input.plans = printed_layers(drawn.settings, exposure_s);
  const bool transition = drawn.settings.base_s && drawn.settings.transition_layers > 0;  // its times follow exposure_s
  const referee::Judged judged =
      referee::judge(input, transition ? referee::voxels_of(twin::expose(input)) : times.voxels);
  const Report report = job_run::analyse_case(drawn, job_run::judged_at(exposure_s));
  CAPTURE(exposure_s);
  // Where the print as a whole fails nothing is listed; near that limit either is right. The judge leaves base layers
  // out.
  const double vanishing = judged.solid_mm3 > 0 ? judged.vanish_mm3 / judged.solid_mm3 : 0;
  if (judged.bulk_chance >= 0.55 || (vanishing > 0.55 && !drawn.settings.base_s)) {
    ++count.failing;
    CHECK(report.whole_fails);
    CHECK(report.details.empty());
    CHECK(report.verdict == Verdict::hold);
    return;
  }
  if (judged.bulk_chance >= 0.45 || vanishing > 0.45) return;
  ++count.stacks;
  std::vector<bool> met(report.details.size(), false);
  for (const referee::Detail& d : judged.details) {
    const Detail* match = nullptr;
    for (std::size_t i = 0; i < report.details.size() && !match; ++i) {
      if (met[i] || !same_place(report.details[i], d, input.pitch)) continue;
      met[i] = true;
      match = &report.details[i];
    }
    CAPTURE(d.vanish, d.will, d.base, d.from_layer, d.to_layer, d.box.x0, d.box.y0, d.box.x1, d.box.y1, d.volume_mm3,
            d.carries_mm3);
    const bool crumb_or_not = std::abs(d.volume_mm3 - 0.001) < 1e-9 || std::abs(d.volume_mm3 - 0.004) < 1e-9 ||
                              (d.drops && !d.will && d.volume_mm3 < 0.004);
    if (!crumb_or_not) CHECK(match != nullptr);
    if (match) compare(*match, d, count);
    ++count.details, count.lost += d.lost, count.welds += d.welds, count.base += d.base;
    count.carrying += d.carries_mm3 > 0, count.unclear += d.carries_unclear;
  }
  for (std::size_t i = 0; i < met.size(); ++i) {
    const Detail& extra = report.details[i];
    CAPTURE(to_string(extra.fate), extra.from_layer, extra.to_layer, extra.box.from.x, extra.box.from.y,
            extra.volume_mm3);
    const bool crumb_or_not = std::abs(extra.volume_mm3 - 0.001) < 1e-9 || std::abs(extra.volume_mm3 - 0.004) < 1e-9;
    if (!crumb_or_not) CHECK(met[i]);
  }
  CHECK(std::abs(static_cast<int>(report.crumbs.vanish + report.crumbs.fuse) -
                 static_cast<int>(judged.crumbs.size())) <= static_cast<int>(judged.crumbs.size() / 100) + 1);
}

Count check(std::uint64_t seed, const stacks::Case& drawn) {
  const Times times = times_of(drawn);
  Count count;
  CAPTURE(seed, drawn.model.blur_mm, drawn.model.bond_time_s, drawn.model.fuse_time_s,
          drawn.model.penetration_depth_mm);
  for (const double time_s : times.clear_s) check_at(drawn, times, time_s, count);
  return count;
}

Count check_all(std::uint64_t from, std::uint64_t to, const stacks::CaseKind& kind, double blur_px = 0) {
  Count sum;
  for (std::uint64_t seed = from; seed <= to; ++seed) {
    stacks::Case drawn = stacks::random_case(seed, kind);
    if (blur_px > 0) drawn.model.blur_mm = blur_px * drawn.settings.pitch.x_mm;
    const Count one = check(seed, drawn);
    sum.stacks += one.stacks, sum.details += one.details, sum.lost += one.lost, sum.welds += one.welds;
    sum.carrying += one.carrying, sum.base += one.base, sum.unclear += one.unclear;
    sum.forks += one.forks;
  }
  return sum;
}

}  // namespace

TEST_CASE("judge: details of plain random stacks") {
  const Count count = check_all(701, 708, {});
  CHECK(count.stacks >= 8);
  CHECK(count.details > 100);
  CHECK(count.lost > 5);
}

TEST_CASE("judge: details with unequal pitch, exceptions, base and transition layers") {
  const Count count = check_all(721, 728, {.unequal_pitch = true, .base = true, .exceptions = true, .speckle = true});
  CHECK(count.stacks >= 8);
  CHECK(count.details > 100);
}

TEST_CASE("judge: details of a base that is too short") {
  Count count;
  for (std::uint64_t seed = 731; seed <= 736; ++seed) {
    stacks::Case drawn = stacks::random_case(seed, {.base = true, .speckle = true});
    drawn.settings.base_s = 1.25 * drawn.model.bond_time_s;
    count.base += check(seed, drawn).base;
  }
  CHECK(count.base > 5);
}

TEST_CASE("judge: details under blur of a third of a pixel to eight pixels") {
  int details = 0, forks = 0;
  for (const double blur_px : {0.35, 0.6, 0.98, 3.0}) {
    const Count count = check_all(741, 743, {}, blur_px);
    details += count.details, forks += count.forks;
  }
  CHECK(details > 100);
  CHECK(forks <= 2);
  CHECK(check_all(751, 751, {.side_px = 100, .layer_count = 12}, 8).details > 0);
}

TEST_CASE("judge: well under the bond time the print fails as a whole") {
  Count count;
  for (std::uint64_t seed = 761; seed <= 764; ++seed) {
    const stacks::Case drawn = stacks::random_case(seed, {});
    check_at(drawn, times_of(drawn), 0.8 * drawn.model.bond_time_s, count);
  }
  CHECK(count.failing == 4);
}

TEST_CASE("judge: more random stacks", "[.]") {
  for (const double blur_px : {0.0, 0.35, 0.7, 1.5, 2.5, 5.0}) {
    const Count count = check_all(
        800, 830, {.side_px = 60, .unequal_pitch = true, .base = true, .exceptions = true, .speckle = true}, blur_px);
    CHECK(count.details > 500);
    CHECK(count.forks <= 1 + count.welds / 20);
  }
}

TEST_CASE("judge: rows of the sweep are what the judge finds at those times") {
  for (std::uint64_t seed = 771; seed <= 774; ++seed) {
    const stacks::Case drawn = stacks::random_case(seed, {.base = true});
    const Times times = times_of(drawn);
    const Report report = job_run::analyse_case(drawn, job_run::judged_at(2.4));
    REQUIRE(report.suggestion.has_value());
    std::vector<double> rows_s;
    for (const SweepPoint& point : report.suggestion->sweep)
      if (apart(times.input, times.voxels, point.exposure_s)) rows_s.push_back(point.exposure_s);
    const std::vector<referee::Row> rows = referee::rows(times.input, times.voxels, rows_s);
    for (const referee::Row& row : rows) {
      CAPTURE(seed, row.exposure_s);
      for (const SweepPoint& point : report.suggestion->sweep) {
        if (point.exposure_s != row.exposure_s || point.bulk_chance.value_or(0) >= will_chance) continue;
        CHECK(point.vanish == row.vanish);
        CHECK(point.fuse == row.fuse);
        CHECK(point.vanish_mm3 == Approx(row.vanish_mm3).epsilon(0.01).margin(1e-6));
        CHECK(point.fuse_mm3 == Approx(row.fuse_mm3).epsilon(0.01).margin(1e-6));
      }
    }
  }
}
