// The coupon end to end: written as a person would, then checked with a record. Limits on its wedges against the closed
// forms (wall 2 sqrt2 s erfinv(bond / t), slot 2 sqrt2 s erfinv(1 - fuse / t)); duration and mass against what the
// coupon promises.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "hairline/coupon.hpp"
#include "hairline/fit.hpp"
#include "job_run.hpp"

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
  };
  for (const Print& print :
       {Print{2.5, 0.04, {0.05, 0.05}}, Print{2.1, 0.038, {0.05, 0.05}}, Print{2.5, 0.038, {0.05, 0.05}},
        Print{3.1, 0.038, {0.05, 0.05}}, Print{2.2, 0.034, {0.05, 0.05}}, Print{2.5, 0.03, {0.05, 0.05}},
        Print{2.4, 0.045, {0.05, 0.05}}, Print{2.8, 0.045, {0.05, 0.05}}, Print{2.5, 0.05, {0.05, 0.05}},
        Print{3, 0.05, {0.05, 0.05}}, Print{2.5, 0.04, {0.035, 0.035}}, Print{2.5, 0.034, {0.035, 0.035}},
        Print{2.5, 0.04, {0.05, 0.06}}, Print{2.5, 0.038, {0.034, 0.028}}, Print{2.5, 0.04, {0.022, 0.022}}}) {
    const job_run::Folder folder;
    CouponSettings settings;
    settings.pitch = print.pitch;
    settings.exposures_s = {print.exposure_s};
    settings.base_s = 25;
    const auto coupon = plan_coupon(settings);
    REQUIRE(coupon.has_value());
    const auto files = write_coupon(folder.path, settings);
    REQUIRE(files.has_value());
    CureModel model = stacks::plain_model(print.blur_mm);
    const ResinRecord record = job_run::record_of(model);
    AnalyseSettings analysis = job_run::judged_at({});
    analysis.risk.dose_spread = 1e-6;  // what is lost at this very time, and nothing else
    analysis.risk.least_detail_mm3 = 0;
    const Report report = job_run::analyse_file(files->front(), &record, analysis);
    CAPTURE(print.exposure_s, print.blur_mm, print.pitch.x_mm, print.pitch.y_mm);
    CHECK(report.job.duration_s < 15 * 60);
    CHECK(report.job.resin_g < 4);
    CHECK(report.job.resin_g > 0.5);
    CHECK(report.islands.empty());
    CHECK(report.speck_count == 0);
    REQUIRE(coupon->wedges.size() == 6);
    for (const CouponWedge& wedge : coupon->wedges) {
      CAPTURE(wedge.kind == WedgeKind::wall ? "wall" : "slot", static_cast<int>(wedge.direction));
      const double expected = wedge.kind == WedgeKind::wall ? wall_limit_mm(model, print.exposure_s)
                                                            : slot_limit_mm(model, print.exposure_s);
      CHECK(limit_on(report, wedge) == Approx(expected).margin(0.01));
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
  REQUIRE(files->size() >= 4);
  for (std::size_t i = 0; i < 4; ++i) {
    AnalyseSettings analysis = job_run::judged_at({});
    analysis.tonight.today = "2026-11-25";
    const Report report = job_run::analyse_file((*files)[i], &record, analysis);
    CAPTURE(settings.exposures_s[i]);
    REQUIRE(report.suggestion.has_value());
    CHECK(report.suggestion->exposure_s >= 2.45 - 1e-9);
    CHECK(report.suggestion->exposure_s <= 2.55 + 1e-9);
    REQUIRE(report.suggestion->base_s.has_value());
    CHECK(*report.suggestion->base_s >= 25 - 1e-9);
    CHECK(*report.suggestion->base_s <= 30 + 1e-9);
    REQUIRE(report.record.has_value());
    const auto& notes = report.record->notes;
    CHECK(std::any_of(notes.begin(), notes.end(),
                      [](const std::string& note) { return note.find("weak") != std::string::npos; }));
    CHECK(report.record->age_days == std::optional<int>(5));
    job_run::check_monotone(report);
  }
}
