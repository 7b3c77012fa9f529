// Growth of a drawn job: its walls and gaps by width, and what is said of them, through the whole program.
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "hairline/demo.hpp"
#include "hairline/draw.hpp"
#include "hairline/growth.hpp"
#include "job_run.hpp"

using namespace hairline;

namespace {

constexpr Pitch pitch{0.05, 0.05};
constexpr Size image{480, 480};
constexpr double tooth_mm = 8;
constexpr std::uint32_t layers = 12;

/// Five walls of each width, 8 mm long and turned; or five slots of each in a block.
Layer combs(double degrees, bool slots) {
  const double a = degrees * std::numbers::pi / 180;
  const auto at = [&](double u, double v) {
    return PointMm{12 + u * std::cos(a) - v * std::sin(a), 12 + u * std::sin(a) + v * std::cos(a)};
  };
  Canvas canvas(image, pitch);
  if (slots) canvas.fill_box({0.5, 0.5}, {23.5, 23.5});
  for (int i = 0; i < 10; ++i) {
    const double v = (i - 4.5) * 1.2, width_mm = i < 5 ? 0.2 : 0.35;
    const OutlineMm bar = bar_outline(at(-tooth_mm / 2, v), at(tooth_mm / 2, v), width_mm);
    slots ? canvas.cut({bar}) : canvas.fill({bar});
  }
  return canvas.take();
}

std::filesystem::path drawn(const job_run::Folder& folder, double degrees, bool slots) {
  JobSettings job;
  job.size = image;
  job.pitch = pitch;
  job.layer_count = layers;
  job.height_mm = 0.05;
  job.normal_s = 2.3;
  job.base_s = 30;
  job.base_layers = 2;
  const Layer layer = combs(degrees, slots);
  Progress progress;
  const std::filesystem::path file = folder.path / "combs.zip";
  REQUIRE(write_archive(
      file, job, PngFilter::up, [&](std::uint32_t) { return layer; }, progress));
  return file;
}

}  // namespace

TEST_CASE("job: the sides of drawn combs are found at their widths") {
  // Closed form: number of teeth times length times height; within 3 %.
  const double side_mm2 = 5 * tooth_mm * layers * 0.05;
  const ResinRecord record = harbour_grey_record();
  for (const double degrees : {0.0, 27.0, 45.0}) {
    for (const bool slots : {false, true}) {
      INFO("degrees " << degrees << " slots " << slots);
      const job_run::Folder folder;
      AnalyseSettings settings = job_run::judged_at({});
      const std::filesystem::path file = drawn(folder, degrees, slots);
      const Report report = job_run::analyse_file(file, &record, settings);
      REQUIRE(report.growth);
      REQUIRE(report.growth->widths.size() == 12);
      for (const WidthGrowth& width : report.growth->widths) {
        const bool is_there = std::abs(width.drawn_mm - 0.2) < 1e-9 || std::abs(width.drawn_mm - 0.35) < 1e-9;
        INFO("width " << width.drawn_mm);
        CHECK((slots ? width.slot_mm2 : width.wall_mm2) == Approx(is_there ? side_mm2 : 0).margin(0.03 * side_mm2));
        CHECK((slots ? width.wall_mm2 : width.slot_mm2) == Approx(0).margin(0.03 * side_mm2));
        CHECK(width.wall_mm == printed_wall_mm(report.record->model, 0.05, 2.3, width.drawn_mm));
        CHECK(width.hole_mm == printed_hole_mm(report.record->model, 0.05, 2.3, width.drawn_mm));
      }
      CHECK(report.growth->normal_mm == growth_mm(report.record->model, 0.05, 2.3));
      CHECK(report.growth->base_mm == growth_mm(report.record->model, 0.05, 30));
      settings.threads = 1;
      CHECK(to_json(job_run::analyse_file(file, &record, settings)) == to_json(report));
      const Report measured = job_run::analyse_file(file, nullptr, settings);
      CHECK_FALSE(measured.growth->normal_mm.has_value());
      CHECK(measured.growth->widths[3].wall_mm2 == report.growth->widths[3].wall_mm2);
    }
  }
}
