// The slow twin, and how the dense judge joins voxels, against SciPy: ndimage's convolve1d, maximum_filter,
// minimum_filter, binary_closing and label on the same stacks (tests/outside/exposure_by_scipy.py holds the other
// half).
#include <catch2/catch.hpp>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <nlohmann/json.hpp>

#include "stacks.hpp"
#include "support/detail_judge.hpp"

#ifndef HAIRLINE_PYTHON
#define HAIRLINE_PYTHON "python3"
#endif

using namespace hairline;

namespace {

struct Folder {
  std::filesystem::path path;
  explicit Folder(const std::string& name)
      : path(std::filesystem::temp_directory_path() /
             ("hairline-" + name + "-" + std::to_string(std::random_device{}()))) {
    std::filesystem::create_directories(path);
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path, ignored);
  }
};

template <class T>
void write_raw(const std::filesystem::path& file, const std::vector<T>& values) {
  std::ofstream out(file, std::ios::binary);
  out.write(reinterpret_cast<const char*>(values.data()), static_cast<std::streamsize>(values.size() * sizeof(T)));
}

nlohmann::json describe(const referee::Detail& detail) {
  return {{"fate", detail.vanish ? "vanish" : "fuse"},
          {"will", detail.will},
          {"base", detail.base},
          {"from_layer", detail.from_layer},
          {"to_layer", detail.to_layer},
          {"box", {detail.box.x0, detail.box.y0, detail.box.x1, detail.box.y1}},
          {"voxels", detail.voxels},
          {"volume_mm3", detail.volume_mm3},
          {"critical_s", detail.critical_s}};
}

void write_case(const std::filesystem::path& folder, const twin::Input& input) {
  const twin::Exposed exposed = twin::expose(input);
  // Crumbs are told apart by size alone here: what is carried is no matter of SciPy's.
  referee::Bounds bounds;
  bounds.carried_mm3 = std::numeric_limits<double>::infinity();
  const referee::Judged judged = referee::judge(input, referee::voxels_of(exposed), bounds);
  nlohmann::json job = {{"shape", {exposed.solid.layers, exposed.solid.rows, exposed.solid.cols}},
                        {"pitch_x_mm", input.pitch.x_mm},
                        {"pitch_y_mm", input.pitch.y_mm},
                        {"bond_time_s", input.model.bond_time_s},
                        {"fuse_time_s", input.model.fuse_time_s},
                        {"blur_mm", input.model.blur_mm},
                        {"penetration_depth_mm", input.model.penetration_depth_mm},
                        {"lorentzian", input.model.blur_shape == BlurShape::lorentzian},
                        {"record_height_mm", input.model.layer_height_mm},
                        {"exposure_s", input.exposure_s},
                        {"least_chance", input.least_chance},
                        {"dose_spread", input.dose_spread},
                        {"least_mm3", bounds.least_mm3},
                        {"least_flat_mm3", bounds.least_flat_mm3},
                        {"base_vanish_mm3", exposed.base_vanish_mm3},
                        {"base_fuse_mm3", exposed.base_fuse_mm3}};
  for (const PrintedLayer& printed : input.plans)
    job["plans"].push_back({{"height_mm", printed.height_mm},
                            {"exposure_s", printed.exposure_s},
                            {"factor", printed.factor},
                            {"normal", printed.kind == LayerKind::normal}});
  job["details"] = nlohmann::json::array();
  for (const referee::Detail& detail : judged.details) job["details"].push_back(describe(detail));
  job["crumbs"] = judged.crumbs.size();
  std::ofstream(folder / "case.json") << job.dump(1);
  std::vector<std::uint8_t> pixels;
  for (const Layer& layer : input.layers) {
    const std::vector<std::uint8_t> one = decode(layer);
    pixels.insert(pixels.end(), one.begin(), one.end());
  }
  write_raw(folder / "mask.u8", pixels);
  write_raw(folder / "lost.u8", exposed.lost.values);
  write_raw(folder / "bulk.u8", exposed.bulk.values);
  write_raw(folder / "propped.u8", exposed.propped.values);
  write_raw(folder / "light.f64", exposed.light.values);
  write_raw(folder / "settled_fixed.f64", exposed.settled_fixed.values);
  write_raw(folder / "settled_per_s.f64", exposed.settled_per_s.values);
  write_raw(folder / "vanish_s.f64", exposed.vanish_s.values);
  write_raw(folder / "fuse_s.f64", exposed.fuse_s.values);
}

// Runs the judge; false when it cannot run here.
bool scipy_agrees(const Folder& folder, bool& ran) {
  const std::string command = std::string(HAIRLINE_PYTHON) + " " + HAIRLINE_SOURCE_DIR +
                              "/tests/outside/exposure_by_scipy.py \"" + folder.path.string() + "\"";
  const int status = std::system(command.c_str());
  ran = WIFEXITED(status) && WEXITSTATUS(status) != 77;
  return ran && WEXITSTATUS(status) == 0;
}

void compare(const std::string& name, std::uint64_t seed, const stacks::CaseKind& kind) {
  const Folder folder(name);
  write_case(folder.path, stacks::input_of(stacks::random_case(seed, kind), 2.4));
  bool ran = false;
  const bool agrees = scipy_agrees(folder, ran);
  if (!ran) {
    std::cout << "skipped: Python with NumPy and SciPy is not here\n";
    return;
  }
  CAPTURE(name, seed);
  CHECK(agrees);
}

}  // namespace

TEST_CASE("twin: SciPy finds the same losses, plain jobs") {
  for (std::uint64_t seed = 1; seed <= 3; ++seed) compare("plain", seed, {});
}
TEST_CASE("twin: SciPy finds the same losses, unequal pitch and speckle") {
  for (std::uint64_t seed = 11; seed <= 12; ++seed) compare("pitch", seed, {.unequal_pitch = true, .speckle = true});
}
TEST_CASE("twin: SciPy finds the same losses, base, transition and exceptions") {
  for (std::uint64_t seed = 21; seed <= 23; ++seed)
    compare("base", seed, {.unequal_pitch = true, .base = true, .exceptions = true});
}
TEST_CASE("twin: SciPy finds the same losses, grey bodies, little blur") {
  compare("grey", 41, {.base = true, .speckle = true, .grey = true, .least_blur_px = 0.35, .most_blur_px = 0.6});
}
TEST_CASE("twin: SciPy finds the same losses, Lorentzian spread") {
  compare("lorentzian", 31, {.side_px = 32, .layer_count = 12, .base = true, .lorentzian = true});
}
