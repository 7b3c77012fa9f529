// The whole program on an archive against the slow twin: details in fate, layers, place, volume, critical exposure,
// share lost, chance; crumbs; losses of the base. And the same bytes on any number of threads.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <sstream>

#include "whole_run.hpp"

using namespace hairline;

namespace {

constexpr double t = 2.4;

std::string text_of(bool vanish, std::uint32_t from, std::uint32_t to, const BoxMm& box, double volume_mm3,
                    double critical_s) {
  std::ostringstream out;
  out << (vanish ? "vanish " : "fuse ") << from << ".." << to << " x " << box.from.x << ".." << box.to.x << " y "
      << box.from.y << ".." << box.to.y << " z " << box.from.z << ".." << box.to.z << ", " << volume_mm3 << " mm3 at "
      << critical_s << " s";
  return out.str();
}

BoxMm box_of(const twin::Detail& detail, Pitch pitch) {
  return {{detail.box.x0 * pitch.x_mm, detail.box.y0 * pitch.y_mm, detail.from_z_mm},
          {detail.box.x1 * pitch.x_mm, detail.box.y1 * pitch.y_mm, detail.to_z_mm}};
}

bool near(double a, double b, double margin) {
  return std::abs(a - b) <= margin;
}

bool same_box(const BoxMm& a, const BoxMm& b) {
  return near(a.from.x, b.from.x, 1e-6) && near(a.from.y, b.from.y, 1e-6) && near(a.from.z, b.from.z, 1e-6) &&
         near(a.to.x, b.to.x, 1e-6) && near(a.to.y, b.to.y, 1e-6) && near(a.to.z, b.to.z, 1e-6);
}

bool same(const Detail& found, const twin::Detail& expected, Pitch pitch) {
  return (found.fate == Fate::vanish) == expected.vanish && found.from_layer == expected.from_layer &&
         found.to_layer == expected.to_layer && same_box(found.box, box_of(expected, pitch)) &&
         near(found.volume_mm3, expected.volume_mm3, 0.01 * expected.volume_mm3) &&
         near(found.critical_exposure_s, expected.critical_s, 0.002 * expected.critical_s) &&
         near(found.lost_fraction, expected.lost_fraction, 0.01) && near(found.probability, expected.probability, 0.01);
}

void check_against_twin(const stacks::Case& drawn) {
  const twin::Input input = stacks::input_of(drawn, t);
  const twin::Exposed exposed = twin::expose(input);
  const twin::Details expected = twin::find_details(input, exposed);
  const Report report = whole_run::analyse_case(drawn, {t, 2});
  std::vector<bool> used(report.details.size(), false);
  for (const twin::Detail& detail : expected.details) {
    bool found = false;
    for (std::size_t i = 0; i < report.details.size() && !found; ++i) {
      if (used[i] || !same(report.details[i], detail, input.pitch)) continue;
      found = used[i] = true;
    }
    INFO("missing: " << text_of(detail.vanish, detail.from_layer, detail.to_layer, box_of(detail, input.pitch),
                                detail.volume_mm3, detail.critical_s));
    CHECK(found);
  }
  for (std::size_t i = 0; i < report.details.size(); ++i) {
    const Detail& detail = report.details[i];
    INFO("not in the twin: " << text_of(detail.fate == Fate::vanish, detail.from_layer, detail.to_layer, detail.box,
                                        detail.volume_mm3, detail.critical_exposure_s));
    CHECK(used[i]);
    CHECK(detail.id == i + 1);
  }
  std::uint32_t vanish = 0, fuse = 0;
  double vanish_mm3 = 0, fuse_mm3 = 0;
  for (const twin::Detail& crumb : expected.crumbs) {
    (crumb.vanish ? vanish : fuse) += 1;
    (crumb.vanish ? vanish_mm3 : fuse_mm3) += crumb.volume_mm3;
  }
  CHECK(report.crumbs.vanish == vanish);
  CHECK(report.crumbs.fuse == fuse);
  CHECK(report.crumbs.vanish_mm3 == Approx(vanish_mm3).epsilon(0.01).margin(1e-9));
  CHECK(report.crumbs.fuse_mm3 == Approx(fuse_mm3).epsilon(0.01).margin(1e-9));
  REQUIRE(report.base.vanish_mm3.has_value());
  REQUIRE(report.base.fuse_mm3.has_value());
  CHECK(*report.base.vanish_mm3 == Approx(exposed.base_vanish_mm3).epsilon(0.002).margin(2e-4));
  CHECK(*report.base.fuse_mm3 == Approx(exposed.base_fuse_mm3).epsilon(0.002).margin(2e-4));
}

// What must not change when a job is seen otherwise: sorted, without places.
std::vector<std::string> placeless(const Report& report) {
  std::vector<std::string> lines;
  for (const Detail& detail : report.details) {
    std::ostringstream line;
    line.precision(4);
    line << to_string(detail.fate) << " " << detail.from_layer << " " << detail.to_layer << " " << detail.volume_mm3
         << " " << detail.critical_exposure_s << " " << detail.lost_fraction << " " << detail.carries_mm3;
    lines.push_back(line.str());
  }
  for (const LayerRow& row : report.layers) {
    std::ostringstream line;
    line.precision(6);
    line << "layer " << row.layer << " " << row.solid_mm2 << " " << row.contact_mm2 << " " << row.pieces << " "
         << row.islands << " " << row.specks;
    lines.push_back(line.str());
  }
  for (const IslandRow& island : report.islands) {
    std::ostringstream line;
    line.precision(6);
    line << "island " << island.layer << " " << island.area_mm2 << " " << island.joins_layer.value_or(0);
    lines.push_back(line.str());
  }
  std::sort(lines.begin(), lines.end());
  return lines;
}

}  // namespace

TEST_CASE("analyse: details equal the twin's on plain jobs") {
  for (std::uint64_t seed = 401; seed <= 406; ++seed) {
    CAPTURE(seed);
    check_against_twin(stacks::random_case(seed, {.side_px = 60, .layer_count = 30}));
  }
}
TEST_CASE("analyse: details equal the twin's on unequal pitch, base, transition, exceptions, speckle") {
  for (std::uint64_t seed = 421; seed <= 428; ++seed) {
    CAPTURE(seed);
    check_against_twin(stacks::random_case(seed, {.side_px = 80,
                                                  .layer_count = 24,
                                                  .unequal_pitch = true,
                                                  .base = true,
                                                  .exceptions = true,
                                                  .speckle = seed % 2 == 0}));
  }
}
TEST_CASE("analyse: the same bytes on one thread and many") {
  for (std::uint64_t seed = 441; seed <= 443; ++seed) {
    const stacks::Case drawn = stacks::random_case(
        seed, {.side_px = 140, .layer_count = 40, .base = true, .exceptions = true, .speckle = true});
    const std::string one = to_json(whole_run::analyse_case(drawn, {t, 1}));
    CAPTURE(seed);
    CHECK(one.size() > 1000);
    CHECK(to_json(whole_run::analyse_case(drawn, {t, 2})) == one);
    CHECK(to_json(whole_run::analyse_case(drawn, {t, 8})) == one);
    CHECK(to_json(whole_run::analyse_case(drawn, {t, 0})) == one);
  }
}
TEST_CASE("analyse: mirror, quarter turn and shift change places only") {
  for (std::uint64_t seed = 461; seed <= 463; ++seed) {
    const stacks::Case drawn = stacks::laid_into(
        stacks::random_case(seed, {.side_px = 50, .layer_count = 24, .unequal_pitch = true, .base = true}), {100, 90},
        16, 16);
    const Report plain = whole_run::analyse_case(drawn, {t, 2});
    CAPTURE(seed);
    CHECK(placeless(whole_run::analyse_case(stacks::mirrored(drawn), {t, 2})) == placeless(plain));
    CHECK(placeless(whole_run::analyse_case(stacks::quarter_turned(drawn), {t, 2})) == placeless(plain));
    CHECK(placeless(whole_run::analyse_case(stacks::laid_into(drawn, {170, 140}, 66, 35), {t, 2})) == placeless(plain));
    const Report doubled = whole_run::analyse_case(stacks::doubled(drawn), {t, 2});
    REQUIRE(doubled.layers.size() == 2 * plain.layers.size());
    for (std::size_t i = 0; i < plain.layers.size(); ++i) {
      CHECK(doubled.layers[2 * i].pieces == plain.layers[i].pieces);
      CHECK(doubled.layers[2 * i].solid_mm2 == Approx(plain.layers[i].solid_mm2));
      CHECK(doubled.layers[2 * i].islands == plain.layers[i].islands);
      CHECK(doubled.layers[2 * i].contact_mm2 == Approx(plain.layers[i].contact_mm2));
      CHECK(doubled.layers[2 * i + 1].islands == 0);
      CHECK(doubled.layers[2 * i + 1].contact_mm2 == Approx(plain.layers[i].solid_mm2));
    }
    CHECK(doubled.job.resin_ml == Approx(plain.job.resin_ml));
    REQUIRE(doubled.islands.size() == plain.islands.size());
    for (std::size_t i = 0; i < plain.islands.size(); ++i)
      CHECK(doubled.islands[i].volume_mm3 == Approx(plain.islands[i].volume_mm3));
  }
}
