// Window, safer time and needed thickness on plates whose answer is known: tall walls w1 and upright slots w2 in tall
// blocks. Closed forms (closed_forms.hpp): a wall vanishes below bond / erf(w / (2 sqrt2 s)), a slot fuses from fuse /
// (1 - erf(...)) on; even widths have their brightest (darkest) pixel half a pixel beside the middle.
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

}  // namespace

TEST_CASE("job: window ends and safer time of walls and slots in closed form") {
  // Gaps of up to two blurs on either side are narrow (docs/exposure.md), so the blurs are wide for the pixel.
  for (const Plate& one : {Plate{3, 3, 0.06}, Plate{3, 4, 0.08}, Plate{5, 5, 0.09}, Plate{4, 3, 0.055},
                           Plate{2, 3, 0.06}, Plate{5, 4, 0.07}, Plate{3, 3, 0.05}}) {
    for (const std::uint32_t floor : {0u, 12u}) {
      const stacks::Case made = plate(one.wall_px, one.slot_px, one.blur_mm, floor);
      const double from = wall_s(made.model, one.wall_px), to = slot_s(made.model, one.slot_px);
      CAPTURE(one.wall_px, one.slot_px, one.blur_mm, floor, from, to);
      if (!(from < to)) continue;
      const Report report = job_run::analyse_case(made, job_run::judged_at(2.4));
      REQUIRE(report.suggestion.has_value());
      const Suggestion& s = *report.suggestion;
      CHECK_FALSE(s.conflict);
      REQUIRE(s.window_s.has_value());
      CHECK((*s.window_s)[0] == Approx(std::max(from, made.model.valid_from_s)).epsilon(0.01));
      CHECK((*s.window_s)[1] == Approx(std::min(to, made.model.valid_to_s)).epsilon(0.01));
      CHECK(s.exposure_s > (*s.window_s)[0]);
      CHECK(s.exposure_s < (*s.window_s)[1]);
      const double below = std::log(s.exposure_s / (*s.window_s)[0]), above = std::log((*s.window_s)[1] / s.exposure_s);
      CHECK(std::abs(below - above) / 2 < 0.02);
      CHECK(s.changes.empty());
      job_run::check_monotone(report);
    }
  }
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
    if (!(from > to && from < made.model.valid_to_s && to > made.model.valid_from_s)) continue;
    ++conflicts;
    const Report report = job_run::analyse_case(made, job_run::judged_at(2.4));
    REQUIRE(report.suggestion.has_value());
    const Suggestion& s = *report.suggestion;
    CHECK(s.conflict);
    CHECK_FALSE(s.window_s.has_value());
    CHECK_FALSE(s.outside_range);
    REQUIRE_FALSE(s.changes.empty());
    for (const Change& change : s.changes) {
      CAPTURE(s.exposure_s, to_string(change.fate), change.width_mm, change.critical_exposure_s, change.box.from.x,
              change.box.to.x);
      const double limit = change.fate == Fate::vanish ? wall_limit_mm(made.model, s.exposure_s)
                                                       : slot_limit_mm(made.model, s.exposure_s);
      CHECK(change.width_mm ==
            Approx((change.fate == Fate::vanish ? one.wall_px : one.slot_px) * pitch).epsilon(0.001));
      CHECK(change.needed_mm == Approx(limit).epsilon(0.02));
      CHECK(change.needed_px == Approx((change.needed_mm - change.width_mm) / pitch).margin(1e-6));
    }
    job_run::check_monotone(report);
  }
  CHECK(conflicts >= 7);
}

TEST_CASE("job: sweep counts are monotone on random stacks") {
  for (std::uint64_t seed = 701; seed <= 712; ++seed) {
    const stacks::Case drawn = stacks::random_case(seed, {.side_px = 70,
                                                          .layer_count = 30,
                                                          .unequal_pitch = seed % 2 == 0,
                                                          .base = seed % 3 == 0,
                                                          .exceptions = seed % 3 != 1,
                                                          .speckle = seed % 4 == 0,
                                                          .lorentzian = seed % 5 == 0});
    CAPTURE(seed);
    job_run::check_monotone(job_run::analyse_case(drawn, job_run::judged_at(2.4)));
    AnalyseSettings swept = job_run::judged_at(2.4);  // wider than the record's valid range
    swept.sweep = {0.6, 8, 40};
    const Report wide = job_run::analyse_case(drawn, swept);
    job_run::check_monotone(wide);
    CHECK(wide.suggestion->sweep.size() == 40);
    CHECK(wide.suggestion->sweep.front().exposure_s == Approx(0.6));
    CHECK(wide.suggestion->sweep.back().exposure_s == Approx(8));
  }
}

TEST_CASE("job: sweep counts are monotone on the demo jobs") {
  for (const ResinRecord& record : {harbour_grey_record(), old_lamp_record()}) {
    for (const DemoJob& job : small_demo_jobs()) {
      stacks::Case drawn{job.settings, {}, *record.fit};
      for (std::uint32_t n = 1; n <= job.settings.layer_count; ++n) drawn.layers.push_back(draw_demo_layer(job, n));
      CAPTURE(job.file_name, record.file);
      job_run::check_monotone(job_run::analyse_case(drawn, job_run::judged_at({})));
    }
  }
}
