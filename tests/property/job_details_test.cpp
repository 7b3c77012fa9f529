// Rows of alike pickets, crumbs, what no time saves, and known jobs from the shared data.
#include <catch2/catch.hpp>
#include <cmath>

#include "hairline/demo.hpp"
#include "job_run.hpp"
#include "support/shared.hpp"

using namespace hairline;

namespace {

constexpr double px = 0.05;

// A rail of 14 pickets of `wide` px every 24 px (1.2 mm) between a plinth and a stout bar, and at both ends a stout
// post.
stacks::Case rail(int wide) {
  stacks::Case made;
  made.settings = stacks::plain_settings({400, 40}, 90);
  made.settings.base_s = 25, made.settings.base_layers = 5;
  made.model = stacks::plain_model(0.06);
  made.layers = stacks::draw(
      made.settings,
      [=](double x, double y, double z) {
        const int col = static_cast<int>(x / px), row = static_cast<int>(y / px), layer = static_cast<int>(z / 0.05);
        if (col < 6 || col >= 394 || row < 10 || row >= 30) return false;
        if (layer < 20 || layer >= 70) return true;
        if (col < 26 || col >= 380) return true;
        for (int i = 0; i < 14; ++i)
          if (col >= 46 + 24 * i - 7 && col < 46 + 24 * i - 7 + wide && row >= 18 && row < 18 + wide) return true;
        return false;
      },
      1);
  return made;
}

}  // namespace

TEST_CASE("job: fourteen alike pickets are one group, spaced 1.2 mm") {
  const Report report = job_run::analyse_case(rail(2), job_run::judged_at(2.4));
  const std::vector<DetailGroup> groups = group_alike(report.details, report.job.pitch);
  REQUIRE_FALSE(groups.empty());
  const DetailGroup* pickets = nullptr;
  for (const DetailGroup& group : groups)
    if (group.ids.size() == 14) pickets = &group;
  REQUIRE(pickets != nullptr);
  CHECK(pickets->spacing_mm == Approx(1.2).epsilon(0.001));
  for (const std::uint32_t id : pickets->ids) {
    const Detail& d = report.details[id - 1];
    CHECK(d.fate == Fate::vanish);
    CHECK(d.from_layer == 21);
    CHECK(d.to_layer == 70);
    CHECK(d.width_mm == Approx(0.1));
    CHECK(d.volume_mm3 == Approx(4 * 50 * px * px * px).epsilon(0.01));
    CHECK(d.carries_mm3 == 0);  // the posts hold the bar
  }
  CHECK(show_terminal(say_report(report, {}), {}).find("14") != std::string::npos);
}

TEST_CASE("job: of many copies one of each kind is looked at, and the rest are as that one") {
  // 26 pickets of 1 px stand on a plate with 6 holes of 2 px that close; only 8 places may be looked at.
  stacks::Case made;
  made.settings = stacks::plain_settings({300, 60}, 60);
  made.model = stacks::plain_model(0.06);
  made.layers = stacks::draw(
      made.settings,
      [](double x, double y, double z) {
        const int col = static_cast<int>(x / px), row = static_cast<int>(y / px), layer = static_cast<int>(z / 0.05);
        if (col < 10 || col >= 290 || row < 5 || row >= 55) return false;
        const bool hole = row >= 15 && row < 17 && col % 40 >= 20 && col % 40 < 22 && col < 260;
        if (layer < 30) return layer < 10 || !hole;
        return row == 40 && col % 10 == 5 && col > 30;
      },
      1);
  AnalyseSettings settings = job_run::judged_at(2.4);
  const Report all = job_run::analyse_case(made, settings);
  settings.risk.most_looked_at = 8;
  const Report few = job_run::analyse_case(made, settings);
  CHECK(all.suggestion->now.vanish == 26);
  CHECK(all.suggestion->now.fuse == 6);
  CHECK(few.suggestion->now.vanish == 26);
  CHECK(few.suggestion->now.fuse == 6);
  CHECK(few.rounding.not_looked_at == 0);
  settings.risk.most_looked_at = 1;  // of two kinds: the other counts as rounding, and it is said
  const Report one = job_run::analyse_case(made, settings);
  CHECK(one.suggestion->now.vanish + one.suggestion->now.fuse == 26);
  CHECK(one.rounding.not_looked_at == 6);
}

TEST_CASE("job: what goes in small pieces all over counts as much as what is listed") {
  // Nine struts of 2 or 3 px that lean by a quarter of a pixel a layer: where they are 2 px wide two layers go.
  stacks::Case made;
  made.settings = stacks::plain_settings({110, 50}, 106);
  made.model = stacks::plain_model(0.038);
  made.layers = stacks::draw(
      made.settings,
      [](double x, double y, double z) {
        const int col = static_cast<int>(x / px), row = static_cast<int>(y / px), layer = static_cast<int>(z / 0.05);
        if (layer < 6) return true;
        const double from = 0.27 * (layer - 6);
        for (int i = 0; i < 9; ++i) {
          const double left = 8 + 16 * (i % 3) + from, near = 8 + 12 * static_cast<double>(i / 3);
          if (col >= std::lround(left) && col < std::lround(left + 2.5) && row >= near && row < near + 3) return true;
        }
        return false;
      },
      1);
  const Report report = job_run::analyse_case(made, job_run::judged_at(2.0));
  const Suggestion& s = *report.suggestion;
  CHECK(report.verdict == Verdict::hold);
  CHECK(s.now.uncured_share > 0.05);
  CHECK(s.action == Action::change);
  CHECK(s.then.uncured_share <= 0.02);
  CHECK(show_terminal(say_report(report, {}), {}).find("of the print") != std::string::npos);
  const Report taken = job_run::analyse_case(made, job_run::judged_at(s.exposure_s));
  CHECK(taken.verdict == Verdict::clear);
  CHECK(taken.suggestion->now.uncured_share == Approx(s.then.uncured_share));
}

TEST_CASE("job: crumbs are counted with their volume and not listed") {
  // Fourteen pickets of one pixel, 50 layers: 0.00625 mm3 each. With the bound above that they are crumbs.
  AnalyseSettings settings = job_run::judged_at(2.4);
  const Report listed = job_run::analyse_case(rail(1), settings);
  CHECK(listed.details.size() >= 14);
  CHECK(listed.crumbs.vanish == 0);
  settings.risk.least_detail_mm3 = 0.0063;
  const Report crumbs = job_run::analyse_case(rail(1), settings);
  CHECK(crumbs.crumbs.vanish == 14);
  CHECK(crumbs.crumbs.vanish_mm3 == Approx(14 * 50 * px * px * px).epsilon(0.001));
  CHECK(crumbs.details.size() == listed.details.size() - 14);
  CHECK(crumbs.crumbs.deep_mm3 == Approx(crumbs.crumbs.vanish_mm3));  // 2.5 mm deep each
  // Rows count what is lost and listed.
  REQUIRE(crumbs.suggestion.has_value());
  const SweepPoint &with = listed.suggestion->now, &without = crumbs.suggestion->now;
  CHECK(without.vanish + 14 == with.vanish);
  CHECK(without.vanish_mm3 + crumbs.crumbs.vanish_mm3 == Approx(with.vanish_mm3));
}

TEST_CASE("job: avoidable is what some time in the valid range saves") {
  // Square pickets of 2 px: light 0.309 (square of the strip's 0.556), so they hold from 1.6 / 0.309 = 5.17 s on.
  stacks::Case made = rail(2);
  const auto share = 0.5 * (std::erf(0.075 / (std::sqrt(2.0) * 0.06)) + std::erf(0.025 / (std::sqrt(2.0) * 0.06)));
  const double critical = 1.6 / (share * share);
  for (const double valid_to_s : {critical * 0.98, critical * 1.02}) {
    made.model.valid_to_s = valid_to_s;
    const Report report = job_run::analyse_case(made, job_run::judged_at(2.4));
    int pickets = 0;
    for (const Detail& d : report.details) {
      if (d.fate != Fate::vanish || d.from_layer != 21) continue;
      ++pickets;
      CHECK(d.critical_exposure_s == Approx(critical).epsilon(0.01));
      CHECK(d.avoidable == (valid_to_s > critical));
    }
    CHECK(pickets == 14);
    CHECK(report.verdict == Verdict::hold);  // avoidable or not
  }
}

TEST_CASE("job: islands of a drawn stack, by hand") {
  // Two blocks that start in mid-resin (one joins at layer 31, one never), and a speck of 3 px.
  stacks::Case made;
  made.settings = stacks::plain_settings({80, 40}, 50);
  made.layers = stacks::draw(
      made.settings,
      [](double x, double y, double z) {
        const int col = static_cast<int>(x / px), row = static_cast<int>(y / px), layer = static_cast<int>(z / 0.05);
        if (col >= 5 && col < 25 && row >= 5 && row < 35) return true;
        if (col >= 25 && col < 50 && row >= 10 && row < 20 && layer >= 30) return true;
        if (col >= 40 && col < 50 && row >= 10 && row < 20 && layer >= 12) return true;
        if (col >= 60 && col < 70 && row >= 10 && row < 17 && layer >= 20 && layer < 25) return true;
        return col >= 60 && col < 63 && row == 30 && layer >= 40;
      },
      1);
  made.model = stacks::plain_model(0.04);
  const Report report = job_run::analyse_case(made, job_run::judged_at(2.4));
  REQUIRE(report.islands.size() == 2);
  CHECK(report.islands[0].layer == 13);
  CHECK(report.islands[0].area_mm2 == Approx(100 * px * px));
  CHECK(report.islands[0].joins_layer == std::optional<std::uint32_t>(31));
  CHECK(report.islands[0].volume_mm3 == Approx(18 * 100 * px * px * px));
  CHECK(report.islands[1].layer == 21);
  CHECK(report.islands[1].area_mm2 == Approx(70 * px * px));
  CHECK_FALSE(report.islands[1].joins_layer.has_value());
  CHECK(report.speck_count == 1);
}

// Shared open data; islands by an independent count (8-connected, no pixel shared with the layer before).
TEST_CASE("job: islands of the spot mesh") {
  const auto file = test::shared("spot-layers.zip");
  if (!file) return;
  const Report report = job_run::analyse_file(*file, nullptr, job_run::judged_at({}));
  const std::uint32_t layer[] = {2, 2, 58, 180, 235};
  const double area_px[] = {26, 26, 169, 20, 598};
  REQUIRE(report.islands.size() == 5);
  const double pixel_mm2 = report.job.pitch.pixel_mm2();
  for (std::size_t i = 0; i < 5; ++i) {
    CAPTURE(i);
    CHECK(report.islands[i].layer == layer[i]);
    CHECK(report.islands[i].area_mm2 / pixel_mm2 == Approx(area_px[i]).margin(1e-6));
  }
  CHECK(report.speck_count == 0);
  CHECK(report.verdict == Verdict::hold);
}

TEST_CASE("job: islands of the frog volume") {
  const auto file = test::shared("frog-layers.zip");
  if (!file) return;
  const Report report = job_run::analyse_file(*file, nullptr, job_run::judged_at({}));
  CHECK(report.islands.size() + report.speck_count == 379);
  std::uint32_t rows = 0;
  for (const LayerRow& row : report.layers) rows += row.islands + row.specks;
  CHECK(rows == 379);
  const double pixel_mm2 = report.job.pitch.pixel_mm2();
  double area_px = 0;
  for (const IslandRow& island : report.islands) area_px += island.area_mm2 / pixel_mm2;
  // Specks are of one to three pixels, so the listed islands hold all but those of the 11 099 pixels.
  CHECK(area_px <= 11099 - static_cast<double>(report.speck_count));
  CHECK(area_px >= 11099 - 3.0 * static_cast<double>(report.speck_count));
}

TEST_CASE("job: the vase stands") {
  const auto file = test::shared("vase-layers.zip");
  if (!file) return;
  CHECK(job_run::analyse_file(*file, nullptr, job_run::judged_at({})).islands.empty());
}

namespace {

// Nothing of an ordinary model is lost at a good time, and it is told to keep it.
void check_ordinary(const Report& report) {
  for (const Detail& detail : report.details) CHECK_FALSE(detail.lost);
  CHECK_FALSE(report.whole_fails);
  REQUIRE(report.suggestion.has_value());
  CHECK(report.suggestion->action == Action::keep);
  CHECK(report.suggestion->exposure_s == report.exposure_s);
}

// A ball of 3 mm on a raft and five supports of 0.8 mm with tips of 0.2 mm, as an experienced person prints it.
stacks::Case supported_ball() {
  stacks::Case made;
  made.settings = stacks::plain_settings({100, 100}, 110);
  made.settings.base_s = 30, made.settings.base_layers = 4;
  made.settings.resin_label = "harbour grey", made.settings.printer_label = "quay bench";
  made.model = *harbour_grey_record().fit;
  const double middle = 2.5, radius = 1.5, centre_z = 3.5;
  made.layers = stacks::draw(made.settings, [=](double x, double y, double z) {
    if (z < 0.2) return std::abs(x - middle) < 2 && std::abs(y - middle) < 2;
    if (std::hypot(x - middle, y - middle, z - centre_z) < radius) return true;
    for (const auto& [dx, dy] : {std::pair{0.0, 0.0}, {0.6, 0.0}, {-0.6, 0.0}, {0.0, 0.6}, {0.0, -0.6}}) {
      const double off = std::hypot(dx, dy), touch = centre_z - std::sqrt(radius * radius - off * off);
      const double from_tip = touch + 0.05 - z, across = std::hypot(x - middle - dx, y - middle - dy);
      if (from_tip >= 0 && across < std::min(0.4, 0.1 + from_tip / 2)) return true;
    }
    return false;
  });
  return made;
}

}  // namespace

// Common practice, no source: such a print comes out at the crisp time, whatever its tips and creases do.
TEST_CASE("job: a supported ball loses nothing and keeps its time") {
  const Report report = job_run::analyse_case(supported_ball(), job_run::judged_at({}));
  check_ordinary(report);
  CHECK(report.verdict == Verdict::clear);
}

// Open data: boat (Stein, Grinspun, Crane; CC BY 4.0) and goathead (hugoelec; CC BY 3.0) from
// https://github.com/odedstein/meshes, supported as an experienced person would; spot (K. Crane, public domain) without
// supports, so with islands of its own.
TEST_CASE("job: ordinary models lose nothing from 1.9 to 3.2 s") {
  const ResinRecord record = harbour_grey_record();
  for (const char* name : {"good-boat.zip", "good-goathead.zip", "spot-layers.zip"}) {
    const auto file = test::shared(name);
    if (!file) return;
    for (const double exposure_s : {1.9, 2.5, 3.2}) {
      CAPTURE(name, exposure_s);
      const Report report = job_run::analyse_file(*file, &record, job_run::judged_at(exposure_s));
      check_ordinary(report);
      if (std::string(name) != "spot-layers.zip") CHECK(report.verdict != Verdict::hold);
    }
  }
}
