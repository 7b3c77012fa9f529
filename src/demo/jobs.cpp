#include "hairline/demo.hpp"
#include "parts.hpp"

namespace hairline {
namespace {

using namespace demo;

/// The workshop's usual settings on its usual printer.
JobSettings settings_of(const std::string& title, Size size, std::uint32_t layers, double normal_s) {
  JobSettings s;
  s.title = title;
  s.size = size;
  s.pitch = {px, px};
  s.layer_count = layers;
  s.height_mm = px;
  s.normal_s = normal_s;
  s.base_s = 30;
  s.base_layers = 5;
  s.motion = {6, 60, 150, 0, 0.5};
  s.density_g_per_ml = 1.1;
  s.resin_label = "harbour grey";
  s.printer_label = "quay bench";
  return s;
}

void draw_gallery_small(Canvas& canvas, double z) {
  base_plate(canvas, z, {1, 1}, {23, 31}, 0.5);
  railing(canvas, z, {{2, 2}});
  porthole_wall(canvas, z, {{3, 6}});
  name_plate(canvas, z, {{2, 9.5}});
  lantern(canvas, z, {{18.5, 12.5}});
  const Hull ship{{12, 24}};
  hull(canvas, z, ship);
  rigging(canvas, z, {ship});
}

void draw_name_plate(Canvas& canvas, double z) {
  NamePlate plate;
  plate.corner = {2, 2};
  plate.width = 20, plate.depth = 8, plate.foot = 0;
  plate.letter_height = 2.8, plate.raised_stroke = 0.15, plate.sunk_stroke = 0.1;
  plate.raised = "LANTERN", plate.sunk = "ROOM 2";
  name_plate(canvas, z, plate);
}

void draw_rigging(Canvas& canvas, double z) {
  base_plate(canvas, z, {2, 2}, {22, 12}, 0.5);
  const Hull ship{{12, 7}, 18, 6, 0.5, 3.5};
  hull(canvas, z, ship);
  rigging(canvas, z, {ship});
}

void draw_hull(Canvas& canvas, double z) {
  base_plate(canvas, z, {1, 1}, {23, 11}, 0.5);
  hull(canvas, z, {{12, 6}, 18, 7, 0.5, 5});
}

}  // namespace

std::vector<DemoJob> small_demo_jobs() {
  return {
      {"gallery-small.zip", settings_of("Skerry Point Light, gallery and ship", {480, 640}, 200, 2.5),
       draw_gallery_small},
      {"nameplate.zip", settings_of("Skerry Point Light, lantern room name plate", {480, 240}, 60, 2.8),
       draw_name_plate},
      {"rigging.zip", settings_of("Ketch Marigold, rigging", {480, 280}, 192, 2.5), draw_rigging},
      {"hull.zip", settings_of("Ketch Marigold, hull", {480, 240}, 100, 2.5), draw_hull},
  };
}

DemoJob night_demo_job() {
  return {"lighthouse-night.zip", settings_of("Skerry Point Light, whole", {1440, 2560}, 1800, 2.5), lighthouse};
}

Layer draw_demo_layer(const DemoJob& job, std::uint32_t number) {
  Canvas canvas(job.settings.size, job.settings.pitch, Edges::grey);
  job.draw(canvas, (number - 0.5) * job.settings.height_mm);
  return canvas.take();
}

}  // namespace hairline
