// The whole program on an archive: losses of the base against the slow twin, the same bytes on any number of threads,
// and what must not change when a job is seen otherwise.
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <sstream>

#include "whole_run.hpp"

using namespace hairline;

namespace {

constexpr double t = 2.4;

void check_base_against_twin(const stacks::Case& drawn) {
  const twin::Exposed exposed = twin::expose(stacks::input_of(drawn, t));
  const Report report = whole_run::analyse_case(drawn, {t, 2});
  REQUIRE(report.base.vanish_mm3.has_value());
  REQUIRE(report.base.fuse_mm3.has_value());
  CHECK(*report.base.vanish_mm3 == Approx(exposed.base_vanish_mm3).epsilon(0.002).margin(2e-4));
  CHECK(*report.base.fuse_mm3 == Approx(exposed.base_fuse_mm3).epsilon(0.002).margin(2e-4));
}

// What must not change when a job is seen otherwise: sorted, without places. Light comes from sums in single precision,
// added up in another order when rows become columns; volumes and lengths hold to far more digits than are compared.
std::vector<std::string> placeless(const Report& report) {
  std::vector<std::string> lines;
  for (const Detail& detail : report.details) {
    std::ostringstream line;
    line << to_string(detail.fate) << (detail.state == State::will ? " will " : " may ") << detail.lost << " "
         << detail.from_layer << " " << detail.to_layer;
    line.precision(7);
    line << " " << detail.volume_mm3 << " " << detail.depth_mm << " " << detail.carries_mm3 << " " << detail.extent_mm
         << " " << detail.share.value_or(-1) << " " << detail.reach_mm.value_or(-1) << " " << detail.welds;
    line.precision(4);
    line << " " << detail.critical_exposure_s.value_or(0) << " " << detail.probability;
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

TEST_CASE("analyse: what is lost in the base equals the twin") {
  for (std::uint64_t seed = 421; seed <= 428; ++seed) {
    CAPTURE(seed);
    check_base_against_twin(stacks::random_case(seed, {.side_px = 80,
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
