// Pictures of details, read back pixel by pixel: walls stand or vanish and slots stay open or close by the closed forms
// of the model (docs/exposure.md), with the widths they were drawn with.
#include "hairline/pictures.hpp"

#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>

#include "hairline/analyse.hpp"

using namespace hairline;
namespace fs = std::filesystem;

namespace {

constexpr double px_mm = 0.05;

struct Block {
  std::uint32_t x0, x1, y0, y1, from_layer, to_layer;
};

// A plate of `layer_count` layers: on a plinth of 8 layers a row of blocks.
struct Plate {
  Size size;
  std::uint32_t layer_count;
  std::vector<Block> blocks;
  std::optional<double> exception_height_mm = {};
};

CureModel model() {
  CureModel made;
  made.bond_time_s = 1.6;
  made.fuse_time_s = 0.55;
  made.blur_mm = 0.06;
  made.penetration_depth_mm = 0.16;
  made.valid_from_s = 1.8;
  made.valid_to_s = 3.2;
  return made;
}

struct Checked {
  Report report;
  Pictures pictures;
};

Layer draw(const Plate& plate, std::uint32_t number) {
  std::vector<std::uint8_t> pixels(std::size_t{plate.size.width_px} * plate.size.height_px, 0);
  for (const Block& block : plate.blocks) {
    if (number < block.from_layer || number > block.to_layer) continue;
    for (std::uint32_t row = block.y0; row < block.y1; ++row)
      for (std::uint32_t col = block.x0; col < block.x1; ++col) pixels[row * plate.size.width_px + col] = 255;
  }
  return encode(pixels, plate.size);
}

Checked check(const Plate& plate, double exposure_s, std::uint32_t threads = 2, bool with_pictures = true) {
  const fs::path path = fs::temp_directory_path() / ("hairline-pictures-" + std::to_string(::getpid()) + ".zip");
  JobSettings job;
  job.size = plate.size;
  job.pitch = {px_mm, px_mm};
  job.layer_count = plate.layer_count;
  job.normal_s = 2.5;
  if (plate.exception_height_mm) job.exceptions = {{12, 20, plate.exception_height_mm, std::nullopt}};
  Progress progress;
  REQUIRE(write_archive(
      path, job, PngFilter::up, [&](std::uint32_t number) { return draw(plate, number); }, progress));
  ResinRecord record;
  record.fit = model();
  AnalyseSettings settings;
  settings.exposure_s = exposure_s;
  settings.threads = threads;
  const auto archive = Archive::open(path);
  REQUIRE(archive);
  Checked out;
  auto report = analyse(*archive, &record, settings, progress, with_pictures ? &out.pictures : nullptr);
  fs::remove(path);
  REQUIRE(report);
  out.report = std::move(*report);
  return out;
}

// A plinth with a wall 2 px wide, one of 4 px, and a block with slots of 2 and 6 px through it.
Plate walls_and_slots(std::uint32_t long_px) {
  const std::uint32_t y1 = 10 + long_px;
  return {{130, long_px + 20},
          40,
          {{4, 126, 4, long_px + 16, 1, 8},
           {20, 22, 10, y1, 9, 40},
           {30, 34, 10, y1, 9, 40},
           {60, 80, 10, y1, 9, 40},
           {82, 100, 10, y1, 9, 40},
           {106, 120, 10, y1, 9, 40}}};
}

const DetailPictures* pictures_of(const Checked& checked, Fate fate) {
  for (const DetailPictures& one : checked.pictures.details)
    if (checked.report.details[one.id - 1].fate == fate) return &one;
  return nullptr;
}

Becomes at(const Raster& raster, std::uint32_t row, std::uint32_t col) {
  return static_cast<Becomes>(raster.values[std::size_t{row} * raster.width_px + col]);
}

// Widths, in pixels, of the runs of this value along a row.
std::vector<std::uint32_t> widths(const Raster& raster, std::uint32_t row, Becomes what) {
  std::vector<std::uint32_t> out;
  for (std::uint32_t col = 0; col < raster.width_px; ++col) {
    if (at(raster, row, col) != what) continue;
    if (col == 0 || at(raster, row, col - 1) != what) out.push_back(0);
    ++out.back();
  }
  return out;
}

using Widths = std::vector<std::uint32_t>;

bool same(const Raster& a, const Raster& b) {
  return a.width_px == b.width_px && a.height_px == b.height_px && a.pitch_x_mm == b.pitch_x_mm &&
         a.pitch_y_mm == b.pitch_y_mm && a.values == b.values;
}

bool same(const DetailSlice& a, const DetailSlice& b) {
  return a.layer == b.layer && same(a.drawn, b.drawn) && same(a.printed, b.printed) && same(a.suggested, b.suggested);
}

bool same(const Pictures& a, const Pictures& b) {
  const auto alike = [](const DetailPictures& one, const DetailPictures& other) {
    return one.id == other.id && one.x_mm == other.x_mm && one.y_mm == other.y_mm && same(one.upright, other.upright) &&
           std::equal(one.slices.begin(), one.slices.end(), other.slices.begin(), other.slices.end(),
                      [](const DetailSlice& p, const DetailSlice& q) { return same(p, q); });
  };
  return same(a.silhouettes.front, b.silhouettes.front) && same(a.silhouettes.side, b.silhouettes.side) &&
         same(a.silhouettes.top, b.silhouettes.top) &&
         std::equal(a.details.begin(), a.details.end(), b.details.begin(), b.details.end(), alike);
}

}  // namespace

TEST_CASE("pictures: a wall under the limit is missing with its drawn width, one over it is kept") {
  REQUIRE(wall_limit_mm(model(), 2.4) > 2 * px_mm);
  REQUIRE(wall_limit_mm(model(), 2.4) < 4 * px_mm);
  const Checked checked = check(walls_and_slots(40), 2.4);
  const DetailPictures* wall = pictures_of(checked, Fate::vanish);
  REQUIRE(wall != nullptr);
  CHECK(wall->x_mm == Approx((20 - 12) * px_mm));  // 10 blur are 12 pixels
  REQUIRE(wall->slices.size() == 24);
  CHECK((wall->slices.front().layer == 9 && wall->slices.back().layer == 40));
  const DetailSlice& slice = wall->slices[12];
  const std::uint32_t middle = slice.printed.height_px / 2;
  CHECK(widths(slice.drawn, middle, Becomes::kept) == Widths{2, 4});
  CHECK(widths(slice.printed, middle, Becomes::missing) == Widths{2});
  CHECK(widths(slice.printed, middle, Becomes::kept) == Widths{4});
  CHECK(at(slice.printed, middle, 12) == Becomes::missing);  // where it was drawn
  CHECK(at(slice.drawn, middle, 12) == Becomes::kept);
}

TEST_CASE("pictures: a slot under the limit is filled with its drawn width, one over it stays open") {
  REQUIRE(slot_limit_mm(model(), 2.4) > 2 * px_mm);
  REQUIRE(slot_limit_mm(model(), 2.4) < 6 * px_mm);
  const Checked checked = check(walls_and_slots(40), 2.4);
  const DetailPictures* slot = pictures_of(checked, Fate::fuse);
  REQUIRE(slot != nullptr);
  const DetailSlice& slice = slot->slices[12];
  const std::uint32_t middle = slice.printed.height_px / 2;
  CHECK(widths(slice.printed, middle, Becomes::filled) == Widths{2});
  CHECK(widths(slice.drawn, middle, Becomes::empty) == Widths{2});
  CHECK(widths(slice.printed, middle, Becomes::missing).empty());
}

TEST_CASE("pictures: at the suggested time they show what holds there") {
  Plate plate = walls_and_slots(40);
  plate.blocks.resize(3);  // no slots: a longer time saves the thin wall
  const Checked checked = check(plate, 2.0);
  REQUIRE(checked.report.suggestion->action == Action::change);
  REQUIRE(wall_limit_mm(model(), checked.report.suggestion->exposure_s) < 2 * px_mm);
  const DetailPictures* wall = pictures_of(checked, Fate::vanish);
  REQUIRE(wall != nullptr);
  const DetailSlice& slice = wall->slices[12];
  REQUIRE_FALSE(slice.suggested.values.empty());
  const std::uint32_t middle = slice.printed.height_px / 2;
  CHECK(widths(slice.printed, middle, Becomes::missing) == Widths{2});
  CHECK(widths(slice.suggested, middle, Becomes::missing).empty());
  CHECK(widths(slice.suggested, middle, Becomes::kept) == Widths{2, 4});
  CHECK(wall->upright.suggested.values.size() == wall->upright.printed.values.size());
}

TEST_CASE("pictures: the upright cut shows the plinth, and the wall's height in layers") {
  const Checked checked = check(walls_and_slots(40), 2.4);
  const DetailPictures* wall = pictures_of(checked, Fate::vanish);
  REQUIRE(wall != nullptr);
  CHECK_FALSE(wall->along_x);
  CHECK(wall->cut_mm == Approx(21.5 * px_mm));
  const Raster& cut = wall->upright.printed;
  CHECK(cut.pitch_y_mm == Approx(0.05));
  CHECK(wall->top_mm == Approx(2.0));
  CHECK(cut.height_px == static_cast<std::uint32_t>(std::lround((wall->top_mm - wall->bottom_mm) / 0.05)));
  std::uint32_t missing = 0, kept = 0;
  for (std::uint32_t row = 0; row < cut.height_px; ++row) {
    missing += at(cut, row, cut.width_px / 2) == Becomes::missing;
    kept += at(cut, row, cut.width_px / 2) == Becomes::kept;
  }
  CHECK(missing == Approx(32).margin(1));  // its foot gets light of the plinth
  CHECK(kept + missing == cut.height_px);
}

TEST_CASE("pictures: layers of another height take their share of the upright cut") {
  Plate plate = walls_and_slots(40);
  plate.exception_height_mm = 0.03;
  const Checked checked = check(plate, 2.4);
  const DetailPictures* wall = pictures_of(checked, Fate::vanish);
  REQUIRE(wall != nullptr);
  CHECK(wall->top_mm == Approx(31 * 0.05 + 9 * 0.03));
  CHECK(wall->upright.drawn.height_px * wall->upright.drawn.pitch_y_mm == Approx(wall->top_mm - wall->bottom_mm));
}

TEST_CASE("pictures: a large detail is scaled down, and its width stays within a pixel") {
  const Checked checked = check(walls_and_slots(300), 2.4);
  const DetailPictures* wall = pictures_of(checked, Fate::vanish);
  REQUIRE(wall != nullptr);
  const Raster& printed = wall->slices[12].printed;
  CHECK((printed.height_px <= 128 && printed.pitch_y_mm > 2 * px_mm));
  CHECK(printed.width_px * printed.pitch_x_mm == Approx(26 * px_mm));
  for (std::uint32_t row = 20; row < printed.height_px - 20; ++row) {
    const Widths missing = widths(printed, row, Becomes::missing);
    REQUIRE(missing.size() == 1);
    CHECK(missing[0] * printed.pitch_x_mm == Approx(2 * px_mm).margin(printed.pitch_x_mm));
  }
}

TEST_CASE("pictures: the same on any number of threads, and the report is the same without them") {
  const Plate plate = walls_and_slots(40);
  const Checked one = check(plate, 2.4, 1), four = check(plate, 2.4, 4), without = check(plate, 2.4, 2, false);
  CHECK_FALSE(one.pictures.details.empty());
  CHECK(same(one.pictures, four.pictures));
  CHECK(to_json(one.report) == to_json(without.report));
  CHECK(to_json(one.report) == to_json(four.report));
}

TEST_CASE("pictures: no more than 40 details, of those that are alike the worst") {
  Plate plate = {{700, 40}, 30, {{2, 698, 2, 38, 1, 8}}};
  for (std::uint32_t i = 0; i < 50; ++i)  // each of another height, so that none are alike
    plate.blocks.push_back({10 + 13 * i, 12 + 13 * i, 15, 25, 9, 12 + i % 18});
  const Checked checked = check(plate, 2.0);
  REQUIRE(checked.report.details.size() >= 50);
  CHECK(checked.pictures.details.size() == 18);
  for (const DetailPictures& one : checked.pictures.details) {
    CHECK(checked.report.details[one.id - 1].lost);
    CHECK(one.slices.size() <= 24);
  }
}

TEST_CASE("pictures: measured only, there are silhouettes and no details") {
  const fs::path path = fs::temp_directory_path() / ("hairline-measured-" + std::to_string(::getpid()) + ".zip");
  const Plate plate = walls_and_slots(40);
  JobSettings job;
  job.size = plate.size;
  job.layer_count = plate.layer_count;
  job.normal_s = 2.5;
  Progress progress;
  REQUIRE(write_archive(
      path, job, PngFilter::up, [&](std::uint32_t number) { return draw(plate, number); }, progress));
  const auto archive = Archive::open(path);
  REQUIRE(archive);
  Pictures pictures;
  REQUIRE(analyse(*archive, nullptr, {}, progress, &pictures));
  fs::remove(path);
  CHECK(pictures.details.empty());
  // Seen from the front each block is as wide as it was drawn (closed form), however thin.
  std::uint32_t columns = 0;
  for (std::uint32_t col = 0; col < 130; ++col) columns += pictures.silhouettes.front.values[col] > 0;
  CHECK(columns == 2 + 4 + 20 + 18 + 14);
}
