// What a check leaves of each layer for later looks: held against the slow twin voxel by voxel at every time, against
// the pictures of details of the same check, and the same bytes on any number of threads. The bound of one voxel in a
// thousand is the project's own (engine_twin_test.cpp).
#include <catch2/catch.hpp>
#include <cmath>

#include "hairline/files.hpp"
#include "hairline/layer_view.hpp"
#include "job_run.hpp"

using namespace hairline;

namespace {

constexpr double judged_s = 2.4;

struct Looked {
  Report report;
  Pictures pictures;
  Flips flips;
  std::string bytes;
};

Looked check(const stacks::Case& drawn, std::uint32_t threads = 2) {
  const job_run::Folder folder;
  Pictures pictures;
  pictures.flips_file = folder.path / "look.flips";
  AnalyseSettings settings = job_run::judged_at(judged_s);
  settings.threads = threads;
  Report report = job_run::analyse_case(drawn, settings, &pictures);
  auto flips = Flips::open(pictures.flips_file);
  REQUIRE(flips);
  return {std::move(report), std::move(pictures), std::move(*flips), read_text(folder.path / "look.flips").value()};
}

Raster view(const Looked& at, const stacks::Case& drawn, std::uint32_t number, std::uint32_t time, const BoxPx& box) {
  const auto flips = at.flips.layer(number);
  REQUIRE(flips);
  REQUIRE(flips->known);
  auto seen = layer_view(solid(drawn.layers[number - 1]), *flips, time, drawn.settings.pitch,
                         {box, box.x1 - box.x0, box.y1 - box.y0});
  REQUIRE(seen);
  return std::move(*seen);
}

// docs/exposure.md, voxel by voxel.
Becomes expected(const twin::Exposed& twin, const PrintedLayer& printed, const CureModel& model, double time_s,
                 std::size_t voxel) {
  const double own_s = printed.kind == LayerKind::normal ? time_s : printed.time_s(time_s);
  if (twin.solid.values[voxel] == 0) return time_s >= twin.fuse_s.values[voxel] ? Becomes::filled : Becomes::empty;
  const bool bonds = printed.time_s(time_s) >= bond_time_s(model, printed.height_mm);
  return bonds && own_s >= twin.vanish_s.values[voxel] ? Becomes::kept : Becomes::missing;
}

void check_against_twin(std::uint64_t seed, const stacks::CaseKind& kind) {
  const stacks::Case drawn = stacks::random_case(seed, kind);
  const twin::Input input = stacks::input_of(drawn, judged_s);
  const twin::Exposed twin = twin::expose(input);
  const Looked at = check(drawn);
  const FlipsHead& head = at.flips.head();
  REQUIRE(head.layer_count == drawn.layers.size());
  REQUIRE(head.times_s.size() >= 2);
  CHECK(head.times_s[head.judged] == judged_s);
  const Size size = drawn.settings.size;
  std::size_t different = 0, changed = 0;
  for (std::uint32_t time = 0; time < head.times_s.size(); ++time)
    for (std::uint32_t n = 1; n <= head.layer_count; ++n) {
      const Raster seen = view(at, drawn, n, time, {0, 0, size.width_px, size.height_px});
      for (std::size_t i = 0; i < seen.values.size(); ++i) {
        const Becomes wanted =
            expected(twin, input.plans[n - 1], drawn.model, head.times_s[time], (n - 1) * seen.values.size() + i);
        different += static_cast<Becomes>(seen.values[i]) != wanted;
        changed += wanted == Becomes::missing || wanted == Becomes::filled;
      }
    }
  CAPTURE(seed, different, changed);
  CHECK(changed > 1000);
  CHECK(static_cast<double>(different) <= 0.001 * static_cast<double>(twin.solid.values.size() * head.times_s.size()));
  CHECK(static_cast<double>(different) <= 0.002 * static_cast<double>(changed));
}

// The part of the layer that a picture shows.
BoxPx box_of(const DetailPictures& detail, const Raster& raster, Pitch pitch) {
  const auto voxels = [](double mm, double pitch_mm) { return static_cast<std::uint32_t>(std::lround(mm / pitch_mm)); };
  const std::uint32_t x0 = voxels(detail.x_mm, pitch.x_mm), y0 = voxels(detail.y_mm, pitch.y_mm);
  return {x0, y0, x0 + voxels(raster.width_px * raster.pitch_x_mm, pitch.x_mm),
          y0 + voxels(raster.height_px * raster.pitch_y_mm, pitch.y_mm)};
}

std::size_t compare_with_pictures(const Looked& at, const stacks::Case& drawn) {
  const FlipsHead& head = at.flips.head();
  std::size_t compared = 0;
  for (const DetailPictures& detail : at.pictures.details)
    for (const DetailSlice& slice : detail.slices) {
      const BoxPx box = box_of(detail, slice.printed, drawn.settings.pitch);
      CHECK(view(at, drawn, slice.layer, head.judged, box).values == slice.printed.values);
      if (slice.suggested.values.empty()) continue;
      std::uint32_t time = 0;
      while (std::abs(head.times_s[time] - at.report.suggestion->exposure_s) > 1e-9) ++time;
      CHECK(view(at, drawn, slice.layer, time, box).values == slice.suggested.values);
      ++compared;
    }
  return compared;
}

}  // namespace

TEST_CASE("flips: equal the twin at every time") {
  for (std::uint64_t seed = 701; seed <= 704; ++seed) check_against_twin(seed, {.speckle = seed % 2 == 0});
  check_against_twin(705, {.side_px = 150, .layer_count = 12, .unequal_pitch = true});
}
TEST_CASE("flips: equal the twin in base, transition and exceptional layers") {
  for (std::uint64_t seed = 711; seed <= 714; ++seed)
    check_against_twin(seed, {.side_px = 60, .layer_count = 30, .base = true, .exceptions = true});
}
TEST_CASE("flips: equal the pictures of details, and on any number of threads the same bytes") {
  std::size_t compared = 0;
  for (std::uint64_t seed = 721; seed <= 726; ++seed) {
    const stacks::Case drawn =
        stacks::random_case(seed, {.side_px = 90, .layer_count = 30, .base = seed % 2 == 0, .exceptions = true});
    const Looked at = check(drawn, 1);
    compared += compare_with_pictures(at, drawn);
    CHECK(check(drawn, 2).bytes == at.bytes);
    CHECK(check(drawn, 8).bytes == at.bytes);
  }
  CHECK(compared > 20);
}
