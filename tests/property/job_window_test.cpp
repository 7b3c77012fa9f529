// Rows, window, time to set and needed thickness on plates whose answer is known: tall walls w1 and upright slots w2 in
// tall blocks. Closed forms (closed_forms.hpp): a wall vanishes below bond / erf(w / (2 sqrt2 s)), a slot fuses from
// fuse / (1 - erf(...)) on; even widths have their brightest (darkest) pixel half a pixel beside the middle. Chances
// are normal in ln time with a spread of 5 %, so they are 5 % at a factor of exp(1.645 * 0.05), and 0.1 % at exp(3.09 *
// 0.05) (standard tables). And: every row is what a check at its time finds.
#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "hairline/demo.hpp"
#include "job_run.hpp"

using namespace hairline;

namespace {

constexpr double pitch = 0.05;

double strip_share(int pixels, double blur_mm) {
  const double w = pixels * pitch, off = pixels % 2 == 1 ? 0 : pitch / 2, scale = std::numbers::sqrt2 * blur_mm;
  return 0.5 * (std::erf((w / 2 + off) / scale) + std::erf((w / 2 - off) / scale));
}
double wall_s(const CureModel& m, int pixels) {
  return m.bond_time_s / strip_share(pixels, m.blur_mm);
}
double slot_s(const CureModel& m, int pixels) {
  return m.fuse_time_s / (1 - strip_share(pixels, m.blur_mm));
}

// Three walls of one width (px) and three slots of another in a block, 120 layers, along y through the whole plate but
// for a margin; beneath both a base of `floor` layers.
stacks::Case plate(int wall_px, int slot_px, double blur_mm, std::uint32_t floor = 0) {
  stacks::Case made;
  made.settings = stacks::plain_settings({180, 60}, 120);
  made.model = stacks::plain_model(blur_mm);
  made.model.valid_from_s = 1.65;
  made.model.valid_to_s = 6;
  made.layers = stacks::draw(
      made.settings,
      [=](double x, double y, double z) {
        const int col = static_cast<int>(x / pitch), row = static_cast<int>(y / pitch);
        if (col < 4 || col >= 176 || row < 6 || row >= 54) return false;
        if (z < floor * 0.05) return true;
        for (int i = 0; i < 3; ++i)
          if (col >= 12 + 24 * i && col < 12 + 24 * i + wall_px) return true;
        if (col < 84) return false;
        for (int i = 0; i < 3; ++i)
          if (col >= 104 + 24 * i && col < 104 + 24 * i + slot_px) return false;
        return true;
      },
      1);
  return made;
}

struct Plate {
  int wall_px, slot_px;
  double blur_mm;
};

constexpr double at_risk = 1.0857;   // exp(1.645 * 0.05)
constexpr double bulk_sure = 1.167;  // exp(3.09 * 0.05)

double normal_cdf(double x) {
  return 0.5 * std::erfc(-x / std::numbers::sqrt2);
}

// Is a time too near to one at which something changes to say on which side of it a row lies?
bool near(double time_s, double limit_s, double apart = 0.01) {
  return std::abs(std::log(time_s / limit_s)) < apart;
}

// What must be true of the rows of a plate of which walls stand from `from` and slots stay open until `to`.
void check_rows_of_plate(const Report& report, double from, double to) {
  for (const SweepPoint& row : report.suggestion->sweep) {
    CAPTURE(row.exposure_s);
    if (near(row.exposure_s, from) || near(row.exposure_s, to)) continue;
    CHECK(row.vanish == (row.exposure_s < from ? 3 : 0));
    CHECK(row.fuse == (row.exposure_s < to ? 0 : 3));
    const double wall_chance = normal_cdf(std::log(from / row.exposure_s) / 0.05);
    const bool slots_sure = row.exposure_s * at_risk < to;
    if (slots_sure && wall_chance > 0.06) CHECK(row.expected_losses == Approx(3 * wall_chance).epsilon(0.02));
    if (slots_sure && wall_chance < 0.04) CHECK(row.expected_losses == 0);
    CHECK(*row.bulk_chance == Approx(normal_cdf(std::log(1.6 / row.exposure_s) / 0.05)).epsilon(0.01));
  }
}

// First and last row of those around the suggested one at which nothing that some time saves is at risk.
std::optional<std::array<double, 2>> window_of(const Suggestion& s, const CureModel& m, double from, double to) {
  const double least_sound = m.bond_time_s * bulk_sure;
  std::vector<double> inside;
  for (const SweepPoint& row : s.sweep) {
    const double t = row.exposure_s;
    const bool wall = from <= m.valid_to_s && t<from * at_risk, slot = to> least_sound && t * at_risk > to;
    if (t >= least_sound && !wall && !slot)
      inside.push_back(t);
    else if (t < s.exposure_s)
      inside.clear();
    else
      break;
  }
  if (inside.empty() || s.exposure_s < inside.front() || s.exposure_s > inside.back()) return {};
  if (inside.back() - inside.front() < 0.05 * 0.5 * (inside.front() + inside.back())) return {};
  return std::array{inside.front(), inside.back()};
}

}  // namespace

TEST_CASE("job: rows, window and time to set of walls and slots in closed form") {
  int windows = 0, changes = 0, kept = 0;
  for (const Plate& one : {Plate{3, 3, 0.06}, Plate{3, 4, 0.08}, Plate{5, 5, 0.09}, Plate{4, 3, 0.055},
                           Plate{2, 3, 0.06}, Plate{5, 4, 0.07}, Plate{3, 3, 0.05}}) {
    for (const double job_s : {2.0, 2.4, 4.5}) {
      const stacks::Case made = plate(one.wall_px, one.slot_px, one.blur_mm, job_s == 2.4 ? 12 : 0);
      const double from = wall_s(made.model, one.wall_px), to = slot_s(made.model, one.slot_px);
      CAPTURE(one.wall_px, one.slot_px, one.blur_mm, job_s, from, to);
      const Report report = job_run::analyse_case(made, job_run::judged_at(job_s));
      REQUIRE(report.suggestion.has_value());
      const Suggestion& s = *report.suggestion;
      CAPTURE(s.exposure_s, s.text);
      check_rows_of_plate(report, from, to);
      bool clear = true;
      for (const SweepPoint& row : s.sweep)
        for (const double limit : {from * at_risk, to / at_risk, made.model.bond_time_s * bulk_sure})
          clear = clear && !near(row.exposure_s, limit, 0.003);
      const auto window = window_of(s, made.model, from, to);
      if (clear) CHECK(s.window_s == window);
      windows += clear && window;
      // Where nothing is at risk at the job's own time it is kept; where walls or slots are lost and some time loses
      // none, that is it.
      const bool safe = job_s > from * at_risk && job_s * at_risk < to;
      const bool loses = job_s < 0.97 * from || job_s > 1.03 * to;
      const bool better = std::any_of(s.sweep.begin(), s.sweep.end(), [](const SweepPoint& row) {
        return row.vanish + row.fuse == 0 && row.expected_losses < 1 && *row.bulk_chance < 0.001;
      });
      if (safe) CHECK(s.action == Action::keep);
      if (s.action != Action::change) CHECK(s.exposure_s == job_s);
      if (loses && better) {
        CHECK(s.action == Action::change);
        CHECK(s.then.vanish + s.then.fuse == 0);
        CHECK(s.changes.empty() == (s.then.expected_losses == 0));
      }
      kept += s.action == Action::keep, changes += s.action == Action::change;
      if (s.action != Action::change) continue;
      const Report then = job_run::analyse_case(made, job_run::judged_at(s.exposure_s));
      CHECK(then.suggestion->now.vanish == s.then.vanish);
      CHECK(then.suggestion->now.fuse == s.then.fuse);
      CHECK(then.suggestion->now.expected_mm == Approx(s.then.expected_mm).epsilon(0.01));
      CHECK(s.then.expected_mm <= s.now.expected_mm);
    }
  }
  CHECK(windows >= 4);
  CHECK(changes >= 4);
  CHECK(kept >= 4);
}

TEST_CASE("job: no window for walls and slots of these widths, and what they would need") {
  int conflicts = 0;
  for (const Plate& one :
       {Plate{3, 3, 0.07}, Plate{3, 3, 0.075}, Plate{2, 3, 0.07}, Plate{2, 3, 0.075}, Plate{1, 3, 0.055},
        Plate{5, 5, 0.12}, Plate{1, 2, 0.04}, Plate{4, 4, 0.1}, Plate{3, 4, 0.09}}) {
    const stacks::Case made = plate(one.wall_px, one.slot_px, one.blur_mm, 12);
    const double from = wall_s(made.model, one.wall_px), to = slot_s(made.model, one.slot_px);
    CAPTURE(one.wall_px, one.slot_px, one.blur_mm, from, to);
    // Both avoidable, and no time saves both.
    if (!(from > to && from < made.model.valid_to_s && to > made.model.bond_time_s * bulk_sure)) continue;
    ++conflicts;
    const Report report = job_run::analyse_case(made, job_run::judged_at(2.4));
    REQUIRE(report.suggestion.has_value());
    const Suggestion& s = *report.suggestion;
    check_rows_of_plate(report, from, to);
    CHECK(s.conflict);
    CHECK_FALSE(s.window_s.has_value());
    REQUIRE_FALSE(s.changes.empty());
    for (const Change& change : s.changes) {
      const bool wall = change.fate == Fate::vanish;
      CAPTURE(s.exposure_s, wall, change.width_mm, change.critical_exposure_s, change.box.from.x, change.box.to.x);
      CHECK(change.width_mm == Approx((wall ? one.wall_px : one.slot_px) * pitch).epsilon(0.001));
      // Safe at the time that is set, wherever it lies among the pixels (p^2 / 4 for half a pixel beside the middle,
      // p^2 / 6 for grey edges); as much more than drawn as the limits differ, in whole hundredths.
      CureModel spread = made.model;
      spread.blur_mm = std::sqrt(one.blur_mm * one.blur_mm + pitch * pitch * (1.0 / 4 + 1.0 / 6));
      const auto limit = wall ? wall_limit_mm : slot_limit_mm;
      const double safe_mm = limit(spread, wall ? s.exposure_s / at_risk : s.exposure_s * at_risk);
      const double more_mm = safe_mm - limit(spread, change.critical_exposure_s);
      if (!std::isfinite(safe_mm)) continue;
      CHECK(change.needed_mm >= std::max(safe_mm, change.width_mm + more_mm) - 1e-4);
      CHECK(change.needed_mm <= std::max({safe_mm, change.width_mm + more_mm, change.width_mm}) + 0.0101);
      CHECK(change.needed_px == Approx((change.needed_mm - change.width_mm) / pitch).margin(1e-6));
    }
  }
  CHECK(conflicts >= 4);
}

// At 2.44 s the bottoms of the strokes that will fill are 0.099 mm deep and the shells around them that may fill
// 0.084 mm: rounding both, between times at which they are losses.
TEST_CASE("job: nothing is at risk inside a window, sunk letters that fill by and by included") {
  const std::vector<DemoJob> jobs = small_demo_jobs();
  const auto plate =
      std::find_if(jobs.begin(), jobs.end(), [](const auto& job) { return job.file_name == "nameplate.zip"; });
  REQUIRE(plate != jobs.end());
  stacks::Case drawn{plate->settings, {}, *harbour_grey_record().fit};
  for (std::uint32_t n = 1; n <= plate->settings.layer_count; ++n) drawn.layers.push_back(draw_demo_layer(*plate, n));
  const auto check_at = [&](double exposure_s) { return job_run::analyse_case(drawn, job_run::judged_at(exposure_s)); };
  CHECK(check_at(2.44).verdict == Verdict::caution);
  int windows = 0;
  for (const double job_s : {2.2, 2.44, 2.55, 2.85, 3.15}) {
    AnalyseSettings asked = job_run::judged_at(job_s);
    asked.sweep = {1.8, 3.2, 29};  // each 0.05 s: at 5 % the stretch free of risk has but two rows
    const Report report = job_run::analyse_case(drawn, asked);
    const auto& window = report.suggestion->window_s;
    if (!window) continue;
    ++windows;
    for (int i = 0; i < 6; ++i) {
      const double t = (*window)[0] + ((*window)[1] - (*window)[0]) * (i + 0.5) / 6;
      CAPTURE(job_s, t);
      for (const Detail& detail : check_at(t).details)
        CHECK_FALSE((detail.lost && detail.avoidable && detail.probability >= 0.08));
    }
  }
  CHECK(windows >= 3);
}

TEST_CASE("job: every row is what a check at its time finds, on random stacks") {
  for (std::uint64_t seed = 701; seed <= 708; ++seed) {
    const stacks::Case drawn = stacks::random_case(seed, {.side_px = 60,
                                                          .layer_count = 26,
                                                          .unequal_pitch = seed % 2 == 0,
                                                          .base = seed % 3 == 0,
                                                          .exceptions = seed % 3 != 1,
                                                          .speckle = seed % 4 == 0,
                                                          .lorentzian = seed % 5 == 0});
    CAPTURE(seed);
    const auto check_at = [&](double exposure_s) {
      return job_run::analyse_case(drawn, job_run::judged_at(exposure_s));
    };
    job_run::check_rows(check_at(2.4), check_at);
    AnalyseSettings swept = job_run::judged_at(2.4);  // wider than the record's valid range
    swept.sweep = {0.6, 8, 8};
    const Report wide = job_run::analyse_case(drawn, swept);
    job_run::check_rows(wide, check_at);
    CHECK(wide.suggestion->sweep.front().exposure_s == Approx(0.6));
    CHECK(wide.suggestion->sweep.back().exposure_s == Approx(8));
  }
}

TEST_CASE("job: every row is what a check at its time finds, on the demo jobs") {
  for (const ResinRecord& record : {harbour_grey_record(), old_lamp_record()}) {
    for (const DemoJob& job : small_demo_jobs()) {
      stacks::Case drawn{job.settings, {}, *record.fit};
      for (std::uint32_t n = 1; n <= job.settings.layer_count; ++n) drawn.layers.push_back(draw_demo_layer(job, n));
      CAPTURE(job.file_name, record.file);
      const auto check_at = [&](std::optional<double> exposure_s) {
        return job_run::analyse_case(drawn, job_run::judged_at(exposure_s));
      };
      job_run::check_rows(check_at({}), check_at);
    }
  }
}
