// The coupon end to end: written as a person would, then checked with a record. Limits on its wedges against the closed
// forms (wall 2 sqrt2 s erfinv(bond / t), slot 2 sqrt2 s erfinv(1 - fuse / t)); duration and mass against what the
// coupon promises.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>
#include <string>
#include <vector>

#include "hairline/coupon.hpp"
#include "hairline/fit.hpp"
#include "job_run.hpp"
#include "support/random.hpp"

using namespace hairline;

namespace {

struct Box {
  double x0, y0, x1, y1;
};
Box around(const CouponWedge& w) {
  constexpr double aside = 0.5;
  return {std::min(w.thick_end.x, w.thin_end.x) - aside, std::min(w.thick_end.y, w.thin_end.y) - aside,
          std::max(w.thick_end.x, w.thin_end.x) + aside, std::max(w.thick_end.y, w.thin_end.y) + aside};
}

// How far a place lies from the wedge's axis.
double off_axis(const CouponWedge& w, PointMm at) {
  const double ux = (w.thin_end.x - w.thick_end.x) / w.length_mm(), uy = (w.thin_end.y - w.thick_end.y) / w.length_mm();
  return std::abs((at.x - w.thick_end.x) * uy - (at.y - w.thick_end.y) * ux);
}

// The widest place of a wedge where something of it is lost: its limit. 0: nothing is.
double limit_on(const Report& report, const CouponWedge& wedge) {
  const Fate fate = wedge.kind == WedgeKind::wall ? Fate::vanish : Fate::fuse;
  const Box box = around(wedge);
  double widest = 0;
  for (const Detail& d : report.details) {
    if (d.fate != fate || d.flat || d.from_layer < wedge.from_layer || d.to_layer > wedge.to_layer) continue;
    if (d.box.from.x < box.x0 || d.box.from.y < box.y0 || d.box.to.x > box.x1 || d.box.to.y > box.y1) continue;
    // Every axis runs from the thick end towards larger x and y.
    const PointMm thick{d.box.from.x, d.box.from.y},
        middle{0.5 * (d.box.from.x + d.box.to.x), 0.5 * (d.box.from.y + d.box.to.y)};
    if (off_axis(wedge, middle) > 0.4) continue;
    widest = std::max(widest, wedge.width_at_mm(thick));
  }
  return widest;
}

CureModel model_of(double blur_mm, double fuse_time_s = 0.55) {
  CureModel model = stacks::plain_model(blur_mm);
  model.fuse_time_s = fuse_time_s;
  return model;
}

struct Limit {
  std::string name;
  double found_mm, expected_mm;
};
struct Checked {
  Report report;
  std::vector<Limit> limits;  // of the six wedges, in the coupon's order
};

enum class Drawn { as_usual, for_the_record };

// Writes a coupon, checks it with this record, and reads its limits.
Checked check_coupon(Pitch pitch, double exposure_s, const CureModel& model, Drawn drawn = Drawn::as_usual) {
  const job_run::Folder folder;
  CouponSettings settings;
  if (drawn == Drawn::for_the_record) settings.blurs = BlurRange{model.blur_mm, model.blur_mm};
  settings.pitch = pitch;
  settings.exposures_s = {exposure_s};
  settings.base_s = 25;
  const auto coupon = lay_out_coupon(settings);
  REQUIRE(coupon.has_value());
  const auto files = write_coupon(folder.path, settings);
  REQUIRE(files.has_value());
  const ResinRecord record = job_run::record_of(model);
  AnalyseSettings analysis = job_run::judged_at({});
  analysis.risk.dose_spread = 1e-6;  // what is lost at this very time, and nothing else
  analysis.risk.least_detail_mm3 = 0;
  Checked checked{job_run::analyse_file(files->files.front(), &record, analysis), {}};
  REQUIRE(coupon->wedges.size() == 6);
  for (const CouponWedge& wedge : coupon->wedges) {
    const bool wall = wedge.kind == WedgeKind::wall;
    const char* direction[] = {" along x", " along y", " slanted"};
    checked.limits.push_back({(wall ? "wall" : "slot") + std::string(direction[static_cast<int>(wedge.direction)]),
                              limit_on(checked.report, wedge),
                              wall ? wall_limit_mm(model, exposure_s) : slot_limit_mm(model, exposure_s)});
  }
  return checked;
}

ResinRecord look_only() {
  ResinRecord record;
  record.printer.pitch_mm = 0.05;
  record.conditions.date = "2026-11-20";
  const std::pair<double, Look> seen[] = {
      {2.3, Look::under}, {2.4, Look::slightly_under}, {2.5, Look::crisp}, {2.6, Look::slightly_over}};
  for (const auto& [exposure_s, look] : seen) {
    BracketReading reading;
    reading.exposure_s = exposure_s;
    reading.look = look;
    record.bracket.push_back(reading);
  }
  return record;
}

}  // namespace

TEST_CASE("job: limits on the coupon's wedges, its duration and its mass") {
  struct Print {
    double exposure_s, blur_mm;
    Pitch pitch;
    double fuse_time_s = 0.55;
  };
  const Pitch usual{0.05, 0.05}, fine{0.035, 0.035};
  for (const Print& print :
       {Print{2.5, 0.04, usual}, Print{2.1, 0.038, usual}, Print{2.5, 0.038, usual}, Print{3.1, 0.038, usual},
        Print{2.2, 0.034, usual}, Print{2.5, 0.03, usual}, Print{2.4, 0.045, usual}, Print{2.8, 0.045, usual},
        Print{2.5, 0.05, usual}, Print{3, 0.05, usual}, Print{2.5, 0.04, fine}, Print{2.5, 0.034, fine},
        Print{2.5, 0.04, {0.05, 0.06}}, Print{2.5, 0.038, {0.034, 0.028}}, Print{2.5, 0.04, {0.022, 0.022}},
        Print{1.8, 0.06, {0.012, 0.012}},  // a wall of 16 pixels is the limit
        // Long times at a blur just under a pixel: slots of more than two pixels, which the closing disc would leave.
        Print{3.5, 0.044, usual}, Print{3, 0.048, usual}, Print{3.84, 0.048, usual}, Print{3.84, 0.0499, usual},
        Print{3, 0.042, usual, 0.35}, Print{3, 0.046, usual, 0.35}, Print{3.84, 0.034, fine},
        Print{3.84, 0.0349, fine}}) {
    const Checked checked = check_coupon(print.pitch, print.exposure_s, model_of(print.blur_mm, print.fuse_time_s));
    CAPTURE(print.exposure_s, print.blur_mm, print.fuse_time_s, print.pitch.x_mm, print.pitch.y_mm);
    CHECK(checked.report.job.duration_s < 15 * 60);
    CHECK(checked.report.job.resin_g < 4);
    CHECK(checked.report.job.resin_g > 0.5);
    CHECK(checked.report.islands.empty());
    CHECK(checked.report.speck_count == 0);
    for (const Limit& limit : checked.limits) {
      CAPTURE(limit.name);
      CHECK(limit.found_mm == Approx(limit.expected_mm).margin(0.01));
    }
  }
}

struct Margins {
  double straight_wall_mm, slanted_wall_mm, slot_mm;
};

// The tables of docs/exposure.md are of these blurs and times.
void check_limits(Pitch pitch, double blur_mm, Drawn drawn, const Margins& margins) {
  for (const double exposure_s : {1.8, 2.1, 2.5, 3.0, 3.5, 3.84}) {
    CAPTURE(pitch.x_mm, blur_mm, exposure_s);
    const Checked checked = check_coupon(pitch, exposure_s, model_of(blur_mm), drawn);
    for (std::size_t i = 0; i < checked.limits.size(); ++i) {
      const Limit& limit = checked.limits[i];
      CAPTURE(limit.name);
      const double margin_mm = i < 2 ? margins.straight_wall_mm : i == 2 ? margins.slanted_wall_mm : margins.slot_mm;
      CHECK(limit.found_mm == Approx(limit.expected_mm).margin(margin_mm));
    }
  }
}

TEST_CASE("job: limits on the coupon's wedges agree with the closed forms within 0.01 mm over all usual blurs") {
  const Pitch usual{0.05, 0.05}, fine{0.035, 0.035};
  for (const double blur_mm : {0.032, 0.034, 0.043, 0.0499, 0.06})
    check_limits(usual, blur_mm, Drawn::as_usual, {0.0085, 0.01, 0.0095});
  // But for slanted walls at the shortest time, and less than 0.62 pixels of blur.
  for (const double blur_mm : {0.026, 0.03}) check_limits(usual, blur_mm, Drawn::as_usual, {0.0085, 0.014, 0.0095});
  for (const double blur_mm : {0.026, 0.04, 0.06}) check_limits(fine, blur_mm, Drawn::as_usual, {0.007, 0.007, 0.0075});
}

// Prints the tables of docs/exposure.md: found minus closed form, um, the worst over the times.
TEST_CASE("job: tables of limits on the coupon's wedges", "[.]") {
  for (const Drawn drawn : {Drawn::as_usual, Drawn::for_the_record})
    for (const double pitch_mm : {0.05, 0.035})
      for (const double blur_mm :
           {0.026, 0.028, 0.030, 0.032, 0.034, 0.037, 0.040, 0.043, 0.046, 0.0499, 0.050, 0.055, 0.060}) {
        double wall_mm = 0, slanted_mm = 0, slot_mm = 0;
        for (const double exposure_s : {1.8, 2.1, 2.5, 3.0, 3.5, 3.84}) {
          const Checked checked = check_coupon({pitch_mm, pitch_mm}, exposure_s, model_of(blur_mm), drawn);
          for (std::size_t i = 0; i < checked.limits.size(); ++i) {
            double& worst = i < 2 ? wall_mm : i == 2 ? slanted_mm : slot_mm;
            worst = std::max(worst, std::abs(checked.limits[i].found_mm - checked.limits[i].expected_mm));
          }
        }
        std::printf("%s, pixels %.3f, blur %.4f: walls %.0f, slanted walls %.0f, slots %.0f\n",
                    drawn == Drawn::as_usual ? "usual" : "for the record", pitch_mm, blur_mm, 1000 * wall_mm,
                    1000 * slanted_mm, 1000 * slot_mm);
      }
}

TEST_CASE("job: wedges drawn for the record's own blur agree with the closed forms over all blurs") {
  const Pitch usual{0.05, 0.05}, fine{0.035, 0.035};
  for (const double blur_mm : {0.026, 0.032, 0.034, 0.043, 0.0499, 0.06})
    check_limits(usual, blur_mm, Drawn::for_the_record, {0.003, 0.0065, 0.006});
  for (const double blur_mm : {0.026, 0.04, 0.06})
    check_limits(fine, blur_mm, Drawn::for_the_record, {0.002, 0.004, 0.0045});
}

TEST_CASE("job: limits on the coupon's wedges agree with the closed forms for random records and times") {
  test::Random random(5);
  for (int i = 0; i < 30; ++i) {
    CureModel model = model_of(random.between_real(0.026, 0.06), 1);
    model.bond_time_s = random.between_real(1.3, 2);
    const double exposure_s = model.bond_time_s * random.between_real(1.2, 2.2);
    model.fuse_time_s = exposure_s / random.between_real(3.2, 7);
    const bool usual = i % 2 == 0;
    CAPTURE(exposure_s, model.bond_time_s, model.fuse_time_s, model.blur_mm, usual);
    const Checked checked =
        check_coupon({0.05, 0.05}, exposure_s, model, usual ? Drawn::as_usual : Drawn::for_the_record);
    for (const Limit& limit : checked.limits) {
      CAPTURE(limit.name);
      CHECK(limit.found_mm == Approx(limit.expected_mm).margin(usual ? 0.0111 : 0.01));
    }
  }
}

TEST_CASE("job: no slot on the coupon fuses that is wider than the closing disc closes") {
  // A slot of n empty pixels has a pixel (n + 1) / 2 away from solid, rounded down; the disc reaches 2 blur and half a
  // pixel. n pixels are empty in a slot drawn at most n + 1 wide; slanted by 30 degrees, one of n cos 30 may stay open.
  const Pitch pitch{0.05, 0.05};
  for (const double blur_mm : {0.034, 0.0499, 0.065}) {
    const double widest_px = 2 * std::floor(2 * blur_mm / pitch.x_mm + 0.5);
    // 375 fuse times: by the closed form slots of 6 blurs would fuse.
    const Checked checked = check_coupon(pitch, 3.75, model_of(blur_mm, 0.01));
    for (std::size_t i = 3; i < 6; ++i) {
      CAPTURE(blur_mm, checked.limits[i].name, widest_px);
      const double found_px = checked.limits[i].found_mm / pitch.x_mm;
      CHECK(found_px >= (i == 5 ? std::sqrt(0.75) : 1) * widest_px);
      CHECK(found_px <= widest_px + 1);
      CHECK(checked.limits[i].expected_mm > checked.limits[i].found_mm);
    }
  }
}

TEST_CASE("job: a bracket that was only looked at suggests the crisp time and says that it is weak") {
  // 2.3 under, 2.4 slightly under, 2.5 crisp, 2.6 slightly over: common practice, no source.
  ResinRecord record = look_only();
  const auto fit = fit_record(record);
  REQUIRE(fit.has_value());
  CHECK(fit->weak);
  apply_fit(record, *fit, "2026-11-25");
  const job_run::Folder folder;
  CouponSettings settings;
  settings.exposures_s = {2.3, 2.4, 2.5, 2.6};
  const auto files = write_coupon(folder.path, settings);
  REQUIRE(files.has_value());
  REQUIRE(files->files.size() >= 4);
  for (std::size_t i = 0; i < 4; ++i) {
    AnalyseSettings analysis = job_run::judged_at({});
    analysis.tonight.today = "2026-11-25";
    const Report report = job_run::analyse_file(files->files[i], &record, analysis);
    CAPTURE(settings.exposures_s[i]);
    REQUIRE(report.suggestion.has_value());
    const Suggestion& s = *report.suggestion;
    if (settings.exposures_s[i] == 2.5) CHECK(s.exposure_s == 2.5);
    // The record reaches half way to the coupons beside the crisp one: 2.449 to 2.550 s.
    if (s.action == Action::change) CHECK(s.exposure_s == Approx(2.5).margin(0.051));
    CHECK(settings.base_s == 30);  // sound, so it is left alone
    CHECK_FALSE(s.base_s.has_value());
    REQUIRE(report.record.has_value());
    const auto& doubts = report.record->doubts;
    CHECK(std::any_of(doubts.begin(), doubts.end(),
                      [](const std::string& doubt) { return doubt.find("weak") != std::string::npos; }));
    CHECK(report.record->age_days == std::optional<int>(5));
    if (settings.exposures_s[i] != 2.5) continue;
    job_run::check_rows(report, [&](double exposure_s) {
      AnalyseSettings at = analysis;
      at.exposure_s = exposure_s;
      return job_run::analyse_file(files->files[i], &record, at);
    });
  }
}
