// Layer plans and duration, by hand calculation from the words of the format page.
#include "hairline/settings.hpp"

#include <catch2/catch.hpp>

using namespace hairline;

namespace {

JobSettings small_job() {
  JobSettings job;
  job.layer_count = 10;
  job.height_mm = 0.05;
  job.normal_s = 2.5;
  job.base_s = 30;
  job.base_layers = 2;
  return job;
}

}  // namespace

TEST_CASE("base layers print at the base exposure, the rest at the one asked for") {
  const auto plan = printed_layers(small_job(), 2.0);
  REQUIRE(plan.size() == 10);
  CHECK(plan[0].exposure_s == 30);
  CHECK(plan[1].exposure_s == 30);
  CHECK(plan[1].kind == LayerKind::base);
  CHECK(plan[2].exposure_s == 2.0);
  CHECK(plan[2].factor == 1.0);
  CHECK(plan[2].kind == LayerKind::normal);
  CHECK(plan[9].bottom_mm == Approx(0.45).epsilon(1e-12));
}

TEST_CASE("transition layers step in equal parts from base to normal") {
  JobSettings job = small_job();
  job.transition_layers = 4;
  const auto plan = printed_layers(job, 2.5);
  // (30 - 2.5) / 5 = 5.5 s a step.
  CHECK(plan[2].exposure_s == Approx(24.5).epsilon(1e-12));
  CHECK(plan[3].exposure_s == Approx(19.0).epsilon(1e-12));
  CHECK(plan[4].exposure_s == Approx(13.5).epsilon(1e-12));
  CHECK(plan[5].exposure_s == Approx(8.0).epsilon(1e-12));
  CHECK(plan[6].exposure_s == 2.5);
  for (int i = 2; i < 6; ++i) CHECK(plan[i].kind == LayerKind::transition);
  CHECK(plan[6].kind == LayerKind::normal);
}

TEST_CASE("transition follows the exposure that was asked for") {
  JobSettings job = small_job();
  job.transition_layers = 1;
  const auto plan = printed_layers(job, 4.0);
  CHECK(plan[2].exposure_s == Approx(17.0).epsilon(1e-12));
  // Half of it is the base's, so it follows the normal exposure by half.
  CHECK(plan[2].fixed_s == Approx(15.0).epsilon(1e-12));
  CHECK(plan[2].factor == Approx(0.5).epsilon(1e-12));
  CHECK(plan[2].time_s(2.0) == Approx(16.0).epsilon(1e-12));
  CHECK(plan[0].time_s(2.0) == 30);
  CHECK(plan[3].time_s(2.0) == 2);
}

TEST_CASE("base and transition longer than the job are cut off with it") {
  JobSettings job = small_job();
  job.base_layers = 8;
  job.transition_layers = 4;
  const auto plan = printed_layers(job, 2.5);
  REQUIRE(plan.size() == 10);
  CHECK(plan[7].kind == LayerKind::base);
  CHECK(plan[8].exposure_s == Approx(24.5).epsilon(1e-12));
  CHECK(plan[9].exposure_s == Approx(19.0).epsilon(1e-12));
}

TEST_CASE("without a base exposure the base layers are normal layers") {
  JobSettings job = small_job();
  job.base_s.reset();
  job.transition_layers = 3;
  for (const PrintedLayer& layer : printed_layers(job, 3.0)) {
    CHECK(layer.kind == LayerKind::normal);
    CHECK(layer.exposure_s == 3.0);
  }
}

TEST_CASE("exceptions change height and time of their layers only") {
  JobSettings job = small_job();
  job.transition_layers = 1;
  job.exceptions = {{.from_layer = 2, .to_layer = 2, .height_mm = {}, .exposure_s = 20.0},
                    {.from_layer = 3, .to_layer = 3, .height_mm = 0.1, .exposure_s = 9.0},
                    {.from_layer = 5, .to_layer = 6, .height_mm = 0.03, .exposure_s = 2.0},
                    {.from_layer = 8, .to_layer = 8, .height_mm = 0.03, .exposure_s = {}}};
  const auto plan = printed_layers(job, 5.0);
  CHECK(plan[0].exposure_s == 30);
  CHECK(plan[1].exposure_s == 20);  // a base layer: as it stands
  CHECK(plan[2].exposure_s == 9);   // a transition layer: as it stands
  CHECK(plan[2].time_s(2.0) == 9);
  CHECK(plan[2].height_mm == 0.1);
  CHECK(plan[3].exposure_s == 5);
  CHECK(plan[4].exposure_s == Approx(4.0).epsilon(1e-12));  // 2.0 s at 2.5 s, so 4.0 s at 5.0 s
  CHECK(plan[4].factor == Approx(0.8).epsilon(1e-12));
  CHECK(plan[5].height_mm == 0.03);
  CHECK(plan[6].height_mm == 0.05);
  CHECK(plan[7].height_mm == 0.03);
  CHECK(plan[7].exposure_s == 5);
  // 0.05 + 0.05 + 0.1 + 0.05 + 0.03 + 0.03 + 0.05 + 0.03 + 0.05
  CHECK(plan[9].bottom_mm == Approx(0.44).epsilon(1e-12));
}

TEST_CASE("heights do not drift over many layers") {
  JobSettings job = small_job();
  job.layer_count = 100'000;
  CHECK(printed_layers(job, 2.5).back().bottom_mm == Approx(99'999 * 0.05).epsilon(1e-15));
}

TEST_CASE("duration adds exposures, both ways of the lift and the rests") {
  JobSettings job = small_job();
  job.motion = {
      .lift_mm = 5, .lift_mm_per_min = 50, .retract_mm_per_min = 100, .rest_before_s = 1.5, .rest_after_s = 0.25};
  // 2 * 30 + 8 * 2.5 = 80 s; 10 * (6 + 3 + 1.75) = 107.5 s.
  CHECK(duration_s(job, printed_layers(job, 2.5)) == Approx(187.5).epsilon(1e-12));
}

TEST_CASE("duration falls back on what is assumed") {
  const JobSettings job = small_job();
  // 6 mm at 60 mm/min up (6 s) and at 150 mm/min down (2.4 s), 0.5 s rest: 8.9 s a layer.
  CHECK(duration_s(job, printed_layers(job, 2.5)) == Approx(80 + 89).epsilon(1e-12));
}
