#include "plate_archive.hpp"

#include <fmt/format.h>

#include <cstdio>
#include <map>
#include <system_error>

namespace hairline::bench {
namespace fs = std::filesystem;

namespace {

JobSettings job_of(const Plate& plate) {
  JobSettings job;
  job.title = name_of(plate);
  job.size = plate.shapes.size;
  job.pitch = plate.shapes.pitch;
  job.layer_count = plate.count();
  job.height_mm = plate.shapes.height_mm;
  job.normal_s = normal_s;
  if (plate.first == 1) {
    job.base_s = 30;
    job.base_layers = 5;
  }
  return job;
}

struct Kind {
  PlateKind drawn_as;
  double body_share = PlateSettings{}.body_share;
};

// Crowded: 27 % of the tiles near an edge, where busy has 18 %.
const std::map<std::string, Kind>& kinds() {
  static const std::map<std::string, Kind> table = {
      {"busy", {PlateKind::busy}},          {"crowded", {PlateKind::busy, 0.36}}, {"sparse", {PlateKind::sparse}},
      {"noise1", {PlateKind::noise, 0.01}}, {"noise50", {PlateKind::noise, 0.5}}, {"turning", {PlateKind::turning}},
      {"gyroid", {PlateKind::gyroid}},      {"dithered", {PlateKind::dithered}},  {"letters", {PlateKind::letters}},
  };
  return table;
}

const char* filter_name(PngFilter filter) {
  if (filter == PngFilter::none) return "none";
  return filter == PngFilter::up ? "up" : "adaptive";
}

}  // namespace

Result<Plate> plate_from(const std::string& text) {
  Plate plate;
  unsigned width = 0, height = 0, layers = 0;
  char kind[9] = "busy";
  const int read = std::sscanf(text.c_str(), "%ux%ux%u:%8s", &width, &height, &layers, kind);
  plate.kind = kind;
  const auto known = kinds().find(plate.kind);
  if (read < 3 || width == 0 || height == 0 || layers == 0 || known == kinds().end())
    return tl::unexpected(Error{ErrorKind::usage, "", "the plate \"" + text + "\"", "one like 7680x4320x200:busy"});
  plate.shapes.kind = known->second.drawn_as;
  plate.shapes.body_share = known->second.body_share;
  plate.shapes.size = {width, height};
  plate.shapes.layers = layers;
  return plate;
}

std::string name_of(const Plate& plate) {
  const PlateSettings& s = plate.shapes;
  const std::string kind = s.kind >= PlateKind::turning ? fmt::format("{} {:g} px", plate.kind, s.turn_px) : plate.kind;
  return fmt::format("{}x{}x{} {} {} {}", s.size.width_px, s.size.height_px, s.layers, kind,
                     s.edges == Edges::grey ? "grey" : "hard", filter_name(plate.filter));
}

Result<fs::path> plate_archive(const Plate& plate, const fs::path& dir) {
  std::string file = name_of(plate);
  for (char& c : file) c = c == ' ' ? '-' : c;
  if (plate.layers != 0) file += fmt::format("-from-{}-{}", plate.first, plate.layers);
  const fs::path path = dir / (file + ".zip");
  std::error_code ignored;
  if (fs::exists(path, ignored)) return path;
  fs::create_directories(dir, ignored);
  fmt::print(stderr, "drawing {}\n", path.filename().string());
  Progress progress;
  const auto draw = [&plate](std::uint32_t number) { return draw_plate_layer(plate.shapes, plate.first + number - 1); };
  const auto wrote = write_archive(path, job_of(plate), plate.filter, draw, progress);
  if (!wrote) return tl::unexpected(wrote.error());
  return path;
}

CureModel bench_model() {
  CureModel model;
  model.bond_time_s = 1.6;
  model.fuse_time_s = 0.55;
  model.blur_mm = 0.035;
  model.penetration_depth_mm = 0.16;
  model.valid_from_s = 1.8;
  model.valid_to_s = 3.2;
  model.log_covariance.emplace();
  for (std::size_t i = 0; i < 4; ++i) (*model.log_covariance)[i][i] = 0.03 * 0.03;
  return model;
}

ResinRecord bench_record(const CureModel& model) {
  ResinRecord record;
  record.fit = model;
  return record;
}

RiskContext bench_risk(const JobSettings& job) {
  RiskContext risk;
  risk.model = bench_model();
  risk.pitch = job.pitch;
  risk.size = job.size;
  risk.layers = printed_layers(job, normal_s);
  risk.exposure_s = normal_s;
  risk.times_s = row_times({}, risk.model, normal_s).times_s;
  return risk;
}

}  // namespace hairline::bench
