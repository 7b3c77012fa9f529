// The demo jobs show what they are meant to show, measured on their pixels; the records agree with the closed forms.
#include "hairline/demo.hpp"

#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <map>

#include "hairline/archive.hpp"
#include "hairline/fit.hpp"
#include "hairline/measure.hpp"
#include "hairline/model.hpp"
#include "hairline/track.hpp"
#include "support/flood.hpp"

using namespace hairline;
using namespace hairline::test;

namespace {

struct Folder {
  std::filesystem::path path;
  Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "hairline-demo-XXXXXX").string();
    REQUIRE(mkdtemp(name.data()) != nullptr);
    path = name;
  }
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path, ignored);
  }
};

std::string text_of(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

DemoJob job_named(const std::string& name) {
  for (DemoJob& job : small_demo_jobs()) {
    if (job.file_name == name) return job;
  }
  FAIL("no job " << name);
  return {};
}

/// One 8-connected piece of a layer.
struct Blob {
  int area = 0, x0 = 1 << 30, y0 = 1 << 30, x1 = 0, y1 = 0;
  bool rests = false;
};

std::vector<Blob> blobs_of(const Picture& now, const Picture& below = {}) {
  const Labels labels = slow_labels(now);
  std::vector<Blob> blobs(labels.count);
  for (std::uint32_t row = 0; row < now.size.height_px; ++row) {
    for (std::uint32_t col = 0; col < now.size.width_px; ++col) {
      if (labels.at(row, col) == 0) continue;
      Blob& b = blobs[labels.at(row, col) - 1];
      const int x = static_cast<int>(col), y = static_cast<int>(row);
      ++b.area;
      b.x0 = std::min(b.x0, x), b.x1 = std::max(b.x1, x + 1), b.y0 = std::min(b.y0, y), b.y1 = std::max(b.y1, y + 1);
      b.rests = b.rests || below.pixels.empty() || below.at(row, col) != 0;
    }
  }
  return blobs;
}

/// Layer (1-based) -> pieces that begin there in the air.
std::map<std::uint32_t, std::vector<Blob>> floating_of(const DemoJob& job) {
  std::map<std::uint32_t, std::vector<Blob>> found;
  Picture below;
  for (std::uint32_t n = 1; n <= job.settings.layer_count; ++n) {
    Picture now = picture_of(draw_demo_layer(job, n));
    for (const Blob& b : blobs_of(now, below)) {
      if (!b.rests) found[n].push_back(b);
    }
    below = std::move(now);
  }
  return found;
}

std::uint32_t layer_at(double z_mm) {
  return static_cast<std::uint32_t>(z_mm / 0.05) + 1;
}

}  // namespace

TEST_CASE("the small demo is written, opens, and gives the same bytes each time") {
  const Folder first, second;
  DemoSettings settings;
  settings.night_long = false;
  Progress progress;
  const auto written = write_demo(first.path / "made" / "here", settings, &progress);
  REQUIRE(written);
  REQUIRE(write_demo(second.path, settings));
  CHECK(progress.done() == progress.total());
  CHECK(progress.done() > 0);
  std::vector<std::string> names;
  for (const auto& path : *written) {
    names.push_back(path.filename().string());
    CHECK(text_of(path) == text_of(second.path / path.filename()));
  }
  CHECK(names == std::vector<std::string>{"gallery-small.zip", "nameplate.zip", "rigging.zip", "hull.zip",
                                          "harbour-grey.json", "old-lamp.json"});
  for (const DemoJob& job : small_demo_jobs()) {
    const Result<Archive> archive = Archive::open(second.path / job.file_name);
    REQUIRE(archive);
    CHECK(archive->settings().layer_count == job.settings.layer_count);
    CHECK(archive->settings().title == job.settings.title);
    for (const std::uint32_t n : {1u, job.settings.layer_count / 2, job.settings.layer_count}) {
      const Result<Layer> layer = archive->read_layer(n);
      REQUIRE(layer);
      CHECK(decode(*layer) == decode(draw_demo_layer(job, n)));
    }
  }
}

TEST_CASE("gallery-small: pickets 1, 2, 3 and 4 pixels wide, six of each, under a rail") {
  const DemoJob job = job_named("gallery-small.zip");
  const Layer layer = draw_demo_layer(job, layer_at(3.0));
  std::map<int, int> by_width;
  for (const Blob& b : blobs_of(picture_of(layer))) {
    if (b.y0 >= 40 && b.y1 <= 80 && b.y1 - b.y0 == (b.x1 - b.x0 == 1 ? 2 : 4)) ++by_width[b.x1 - b.x0];
  }
  CHECK(by_width == std::map<int, int>{{1, 6}, {2, 6}, {3, 6}, {4, 6}});
  // The pickets stand on whole pixels: no grey among them.
  for (std::uint32_t r = 40; r < 80; ++r)
    for (const Run& run : layer.row(r)) REQUIRE(run.value == 255);
  int rails = 0;
  for (const Blob& b : blobs_of(picture_of(draw_demo_layer(job, layer_at(5.2)))))
    rails += b.y1 <= 80 && b.x1 - b.x0 == 400;
  CHECK(rails == 1);
}

TEST_CASE("gallery-small: portholes 2 to 10 pixels wide run sideways through an upright wall") {
  const DemoJob job = job_named("gallery-small.zip");
  const Size size = job.settings.size;
  // Widest open stretch of each hole over the layers, along the wall's middle row (y = 6.75 mm), wall from 3 to 21 mm.
  std::map<int, int> widest, tallest;  // by hole, from the left
  std::vector<int> first_column(9, 0);
  const double middles[] = {1.5, 3.325, 5.1, 6.925, 8.7, 10.525, 12.3, 14.125, 15.9};
  for (int hole = 0; hole < 9; ++hole) {
    const int centre = static_cast<int>((3 + middles[hole]) / 0.05);
    for (std::uint32_t n = layer_at(0.51); n < layer_at(3.99); ++n) {
      const std::vector<std::uint8_t> p = decode(draw_demo_layer(job, n));
      double open = 0;
      for (int c = centre - 8; c < centre + 8; ++c)
        open += 1 - p[135 * size.width_px + static_cast<std::uint32_t>(c)] / 255.0;
      widest[hole] = std::max(widest[hole], static_cast<int>(std::ceil(open - 0.01)));
      tallest[hole] += open > 0;
      // Sideways: all rows of the wall are open alike.
      for (const std::uint32_t row : {121u, 148u}) {
        REQUIRE(p[row * size.width_px + static_cast<std::uint32_t>(centre)] ==
                p[135 * size.width_px + static_cast<std::uint32_t>(centre)]);
      }
    }
    INFO("hole " << hole);
    CHECK(widest[hole] == hole + 2);
    CHECK(tallest[hole] == hole + 2);
  }
}

TEST_CASE("gallery-small: raised and sunk letters, twelve glazing bars, a base, and only the rigging floats") {
  const DemoJob job = job_named("gallery-small.zip");
  const Size size = job.settings.size;
  CHECK(job.settings.base_layers == 5);
  CHECK(blobs_of(picture_of(draw_demo_layer(job, 1))).size() == 1);
  int letters = 0, bars = 0;
  for (const Blob& b : blobs_of(picture_of(draw_demo_layer(job, layer_at(2.2))))) {
    letters += b.x1 <= 290 && b.y0 >= 190 && b.y1 <= 260;
    bars += b.x0 >= 310 && b.y0 >= 190 && b.y1 <= 310;
  }
  CHECK(letters == 6);  // SKERRY
  CHECK(bars == 12);
  const auto share = [&](double z, std::uint32_t y0, std::uint32_t y1) {
    const std::vector<std::uint8_t> p = decode(draw_demo_layer(job, layer_at(z)));
    double sum = 0;
    for (std::uint32_t r = y0; r < y1; ++r) {
      for (std::uint32_t c = 40; c < 280; ++c) sum += p[r * size.width_px + c] / 255.0;
    }
    return sum / ((y1 - y0) * 240);
  };
  CHECK(share(1.5, 190, 310) == Approx(1));
  CHECK(share(1.8, 250, 310) < 0.95);  // letters sunk into the lower half
  CHECK(share(1.8, 190, 245) == Approx(1));
  const auto floating = floating_of(job);
  REQUIRE(floating.size() == 2);
  const auto& [lamp_layer, lamp] = *floating.begin();
  const auto& [block_layer, block] = *std::next(floating.begin());
  CHECK((lamp.size() == 1 && block.size() == 1));
  CHECK(lamp_layer == layer_at(5.0 + 1e-6));
  CHECK(block_layer == layer_at(6.3 + 1e-6));
  CHECK(block[0].area * 0.05 * 0.05 >= 1.0);  // mm2: enough to hold a print up for
}

TEST_CASE("nameplate and hull stand without islands, rigging has the same two as the gallery job") {
  CHECK(floating_of(job_named("nameplate.zip")).empty());
  CHECK(floating_of(job_named("hull.zip")).empty());
  CHECK(floating_of(job_named("rigging.zip")).size() == 2);
}

TEST_CASE("edges are grey where shapes do not follow the pixels") {
  const Layer layer = draw_demo_layer(job_named("hull.zip"), 60);
  CHECK(std::count_if(layer.runs.begin(), layer.runs.end(), [](const Run& r) { return r.value != 255; }) > 50);
}

TEST_CASE("the night-long job is 1800 layers of 1440 x 2560 with something on each") {
  const DemoJob job = night_demo_job();
  CHECK(job.settings.layer_count == 1800);
  CHECK(job.settings.size == Size{1440, 2560});
  for (std::uint32_t n = 1; n <= 1800; n += n < 1700 ? 50 : 7) CHECK(area_px(solid(draw_demo_layer(job, n))) > 0);
  // Small enough: under 30 MB for the whole file; and every layer within the reader's own limits.
  double bytes = 0;
  for (std::uint32_t n = 20; n <= 1800; n += 89) {
    const Layer layer = draw_demo_layer(job, n);
    const std::vector<std::byte> png = encode_png(layer, PngFilter::none);
    bytes += static_cast<double>(png.size()) * 1800 / 21;
    const Result<Layer> back = decode_png(png, job.settings.size, {"layer", n});
    REQUIRE(back);
    CHECK(back->runs.size() == layer.runs.size());
  }
  CHECK(bytes < 30e6);
  // The railing of the upper gallery: 120 pickets and posts, beside the lantern's bars.
  const auto blobs = blobs_of(picture_of(draw_demo_layer(job, layer_at(64.5))));
  const PointMm middle{36, 52};
  int pickets = 0;
  for (const Blob& b : blobs) {
    const double x = (b.x0 + b.x1) * 0.025 - middle.x, y = (b.y0 + b.y1) * 0.025 - middle.y;
    pickets += std::abs(std::hypot(x, y) - 16.5) < 0.3;
  }
  CHECK(pickets == 120);
}

TEST_CASE("the night-long job stands, but for the lamp that was left without a support") {
  const DemoJob job = night_demo_job();
  constexpr std::uint32_t step = 4;  // what floats for longer than this is found in every fourth layer as well
  IslandTracker tracker(job.settings.pitch);
  Mask above_solid;
  Pieces above;
  for (std::uint32_t n = job.settings.layer_count / step; n >= 1; --n) {
    Mask here = solid(draw_demo_layer(job, step * n));
    Pieces pieces = find_pieces(here);
    const bool top = n == job.settings.layer_count / step;
    tracker.add(n, step * 0.05, pieces, top ? std::vector<Contact>{} : find_contacts(here, pieces, above_solid, above));
    above_solid = std::move(here), above = std::move(pieces);
  }
  const IslandTracker::Found found = tracker.finish();
  REQUIRE(found.islands.size() == 1);
  CHECK(step * found.islands[0].layer == Approx(68 / 0.05).margin(step));  // the lamp begins 68 mm up
  CHECK(found.islands[0].joins_layer.has_value());                         // its rod meets the roof
  CHECK(found.specks.empty());
}

TEST_CASE("records: readings within half a reading step of the closed forms, matrices positive") {
  for (const ResinRecord& record : {harbour_grey_record(), old_lamp_record()}) {
    const Result<CureModel> fit = fitted_model(record);
    REQUIRE(fit);
    for (const BracketReading& r : record.bracket) {
      CHECK((r.exposure_s >= fit->valid_from_s && r.exposure_s <= fit->valid_to_s));
      // 2 sqrt2 s erfinv(bond/t) etc., turned round so that only erf is needed.
      const double s = fit->blur_mm * 2 * std::sqrt(2.0);
      const auto between = [](double low, double value, double high) { return low <= value && value <= high; };
      CHECK(between(std::erf((*r.thinnest_wall_mm - 0.00501) / s), fit->bond_time_s / r.exposure_s,
                    std::erf((*r.thinnest_wall_mm + 0.00501) / s)));
      CHECK(between(std::erf((*r.narrowest_slot_mm - 0.00501) / s), 1 - fit->fuse_time_s / r.exposure_s,
                    std::erf((*r.narrowest_slot_mm + 0.00501) / s)));
      // Of a stair of a layer's height a step, the lowest that is no lower than the limit.
      const double flat_mm = fit->penetration_depth_mm * std::log(r.exposure_s / *fit->flat_time_s);
      CHECK(between(flat_mm, *r.narrowest_flat_slot_mm, flat_mm + 0.05));
    }
    for (std::size_t i = 0; i + 1 < record.bracket.size(); ++i) {  // more time: thinner walls stand, wider slots close
      CHECK(*record.bracket[i].thinnest_wall_mm >= *record.bracket[i + 1].thinnest_wall_mm);
      CHECK(*record.bracket[i].narrowest_slot_mm <= *record.bracket[i + 1].narrowest_slot_mm);
    }
    // Two depths give back the penetration depth: Dp = (d2 - d1) / ln(t2 / t1) (Jacobs).
    const auto &a = record.cure_depth.front(), &b = record.cure_depth.back();
    CHECK((b.depth_mm - a.depth_mm) / std::log(b.exposure_s / a.exposure_s) == Approx(0.16).margin(0.002));
    // Positive definite: a Cholesky factor exists.
    const LogCovariance& c = *fit->log_covariance;
    double l[4][4] = {};
    for (std::size_t i = 0; i < 4; ++i) {
      for (std::size_t j = 0; j <= i; ++j) {
        double sum = c[i][j];
        CHECK(c[i][j] == c[j][i]);
        for (std::size_t k = 0; k < j; ++k) sum -= l[i][k] * l[j][k];
        if (i == j) REQUIRE(sum > 0);
        l[i][j] = i == j ? std::sqrt(sum) : sum / l[j][j];
      }
    }
  }
  const ResinRecord old_lamp = old_lamp_record(), sound = harbour_grey_record();
  CHECK(old_lamp.fit->bond_time_s == Approx(1.35 * sound.fit->bond_time_s));
  CHECK(old_lamp.fit->blur_mm > sound.fit->blur_mm);
  CHECK(*old_lamp.printer.lamp_hours == 2100);
  CHECK(age_days(old_lamp, "2026-11-01").value() > 30);
}

TEST_CASE("a fit of the demo's readings is sound, and finds what the record states") {
  const ResinRecord grey = harbour_grey_record();
  for (const ResinRecord& record : {grey, old_lamp_record()}) {
    const Result<FitReport> report = fit_record(record);
    REQUIRE(report);
    CHECK(report->weakness == "");
    CHECK(report->odd.empty());
    const std::array stated{record.fit->bond_time_s, record.fit->fuse_time_s, record.fit->blur_mm,
                            record.fit->penetration_depth_mm, *record.fit->flat_time_s};
    REQUIRE(report->parameters.size() == stated.size());
    for (std::size_t i = 0; i < stated.size(); ++i) {
      const Estimate& found = report->parameters[i];
      INFO(record.resin.batch << ", " << found.name << " " << found.low << " to " << found.high);
      CHECK((found.low <= stated[i] && stated[i] <= found.high));
    }
  }
  const CureModel again = fit_record(grey)->model;
  CHECK(again.bond_time_s == Approx(grey.fit->bond_time_s).epsilon(0.02));
  CHECK(again.fuse_time_s == Approx(grey.fit->fuse_time_s).epsilon(0.02));
  CHECK(again.blur_mm == Approx(grey.fit->blur_mm).epsilon(0.02));
}

TEST_CASE("written records read back with the same fit") {
  const Folder folder;
  for (const auto& [name, record] :
       {std::pair{"a.json", harbour_grey_record()}, std::pair{"b.json", old_lamp_record()}}) {
    REQUIRE(save_record(record, folder.path / name));
    const Result<ResinRecord> back = read_record(folder.path / name);
    REQUIRE(back);
    REQUIRE(back->fit);
    CHECK(back->fit->bond_time_s == record.fit->bond_time_s);
    CHECK(back->fit->log_covariance == record.fit->log_covariance);
    CHECK(back->bracket.size() == record.bracket.size());
    CHECK(back->conditions.date == record.conditions.date);
  }
}

TEST_CASE("a place that cannot be written to, or a cancel, leaves nothing half-written") {
  const Folder folder;
  std::ofstream(folder.path / "file") << "x";
  const auto failed = write_demo(folder.path / "file");
  REQUIRE_FALSE(failed);
  CHECK(failed.error().kind == ErrorKind::unwritable);
  Progress progress;
  progress.cancel();
  const auto cancelled = write_demo(folder.path / "out", {}, &progress);
  REQUIRE_FALSE(cancelled);
  CHECK(cancelled.error().kind == ErrorKind::cancelled);
  CHECK(std::filesystem::is_empty(folder.path / "out"));
}
