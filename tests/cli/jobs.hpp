// Small jobs and records for the command-line tests, written as folders (easy to break) or as ZIP archives.
#pragma once
#include <fmt/format.h>

#include <string>
#include <vector>

#include "hairline/archive.hpp"
#include "support/run_binary.hpp"

namespace hairline::test {

inline bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

inline constexpr Size job_size{48, 40};
inline constexpr std::uint32_t job_layers = 6;

inline std::string manifest(
    const std::string& image = R"({"width_px": 48, "height_px": 40, "pitch_x_mm": 0.05, "pitch_y_mm": 0.05})",
    const std::string& layers = R"({"count": 6, "height_mm": 0.05, "files": "layers/*.png"})",
    const std::string& exposure = R"({"normal_s": 2.5, "base_s": 25, "base_layers": 2})") {
  return fmt::format(R"({{"format": "layer-archive", "version": 1, "title": "mooring post",
 "image": {}, "layers": {}, "exposure": {},
 "motion": {{"lift_mm": 6, "lift_mm_per_min": 60, "retract_mm_per_min": 150, "rest_before_s": 0, "rest_after_s": 0.5}},
 "resin": {{"label": "harbour grey", "density_g_per_ml": 1.1}}, "printer": {{"label": "bench two"}}}})",
                     image, layers, exposure);
}

/// A block, or nothing; with `thin`, also a wall of one pixel beside it (it vanishes at the record's times).
inline Layer mask(bool solid, bool thin = false, Size size = job_size) {
  std::vector<std::uint8_t> pixels(std::size_t{size.width_px} * size.height_px, 0);
  for (std::uint32_t row = 4; solid && row < size.height_px - 4; ++row) {
    for (std::uint32_t col = 4; col < 24; ++col) pixels[row * size.width_px + col] = 255;
    if (thin) pixels[row * size.width_px + 36] = 255;
  }
  return encode(pixels, size);
}

inline std::string png(const Layer& layer) {
  const auto bytes = encode_png(layer);
  return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
}

inline std::string layer_name(std::uint32_t number) {
  return fmt::format("layers/{:05}.png", number);
}

/// A sound job as a folder; tests then break it.
inline void write_job(const std::filesystem::path& folder, bool thin = false, const std::string& text = manifest()) {
  write_file(folder / "manifest.json", text);
  for (std::uint32_t n = 1; n <= job_layers; ++n) write_file(folder / layer_name(n), png(mask(true, thin)));
}

inline void write_zip(const std::filesystem::path& path, bool thin = false) {
  const auto settings = parse_manifest(manifest(), "manifest.json");
  if (!settings) throw std::runtime_error(to_paragraph(settings.error()));
  Progress progress;
  const auto draw = [thin](std::uint32_t) { return mask(true, thin); };
  const auto wrote = write_archive(path, *settings, PngFilter::up, draw, progress);
  if (!wrote) throw std::runtime_error(to_paragraph(wrote.error()));
}

/// By these numbers a wall of one pixel (0.05 mm) needs bond_time / erf(0.05 / (2 sqrt2 0.04)) = 1.6 / 0.468 = 3.42 s
/// (closed form of docs/exposure.md, Light), so at 2.5 s it vanishes and no time up to 3.2 s saves it.
inline std::string record_text(
    const std::string& fit = R"(, "fit": {"bond_time_s": 1.6, "fuse_time_s": 0.55, "blur_mm": 0.04,
 "penetration_depth_mm": 0.16, "blur_shape": "gaussian", "valid_from_s": 1.8, "valid_to_s": 3.2})") {
  return R"({"format": "resin-record", "version": 1, "resin": {"label": "harbour grey"},
 "printer": {"label": "bench two", "pitch_mm": 0.05}, "conditions": {"date": "2026-11-01"}, "layer_height_mm": 0.05)" +
         fit + "}\n";
}

/// `hairline check` of these files, with a record beside them.
inline Ran check(const Folder& folder, const std::string& job, std::vector<std::string> more = {}) {
  std::vector<std::string> arguments = {"check", job, "--record", "record.json", "--today", "2026-11-07"};
  arguments.insert(arguments.end(), more.begin(), more.end());
  return hairline(arguments, folder.path());
}

}  // namespace hairline::test
