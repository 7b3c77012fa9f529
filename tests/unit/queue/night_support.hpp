/// A folder of one's own with small jobs and records of the harbour museum's workshop.
#pragma once
#include <catch2/catch.hpp>
#include <filesystem>
#include <string>
#include <vector>

#include "hairline/archive.hpp"
#include "hairline/files.hpp"
#include "hairline/record.hpp"

namespace hairline::test {

struct Workshop {
  std::filesystem::path path;
  Workshop() {
    std::string name = (std::filesystem::temp_directory_path() / "hairline-queue-XXXXXX").string();
    REQUIRE(::mkdtemp(name.data()) != nullptr);
    path = name;
  }
  ~Workshop() {
    std::error_code ignored;
    std::filesystem::remove_all(path, ignored);
  }
  std::string operator/(const std::string& name) const { return (path / name).string(); }
};

inline constexpr std::uint32_t layer_count = 6;

struct SmallJob {
  double normal_s = 2.5;
  std::uint32_t width_px = 30;  ///< of the block on it; 0: black
  std::string resin = "harbour grey";
  std::string title = {};
};

inline void write_job(const std::filesystem::path& path, const SmallJob& small = {}) {
  JobSettings job;
  job.title = small.title;
  job.size = {40, 30};
  job.pitch = {0.05, 0.05};
  job.layer_count = layer_count;
  job.normal_s = small.normal_s;
  job.resin_label = small.resin;
  std::vector<std::uint8_t> block(40 * 30, 0);
  for (std::uint32_t row = 5; row < 25; ++row)
    for (std::uint32_t col = 5; col < 5 + small.width_px; ++col) block[row * 40 + col] = 255;
  Progress progress;
  const auto draw = [&](std::uint32_t) { return encode(block, job.size); };
  REQUIRE(write_archive(path, job, PngFilter::up, draw, progress));
}

inline ResinRecord small_record(double bond_time_s = 1.6) {
  ResinRecord record;
  record.resin.label = "harbour grey";
  record.printer.label = "quay bench";
  record.printer.pitch_mm = 0.05;
  record.conditions.date = "2026-11-01";
  CureModel model;
  model.bond_time_s = bond_time_s;
  model.fuse_time_s = 0.55;
  model.blur_mm = 0.04;
  model.penetration_depth_mm = 0.16;
  model.valid_from_s = 1.8;
  model.valid_to_s = 3.2;
  record.fit = model;
  return record;
}

}  // namespace hairline::test
