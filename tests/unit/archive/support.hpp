// Helpers of the archive tests: folders that clean up after themselves, ZIPs with anything in them.
#pragma once
#include <unistd.h>
#include <zip.h>

#include <catch2/catch.hpp>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <optional>
#include <random>
#include <string>
#include <vector>

#include "hairline/archive.hpp"
#include "hairline/files.hpp"
#include "support/shared.hpp"

namespace archive_test {

namespace fs = std::filesystem;
using namespace hairline;
using Bytes = std::vector<std::byte>;
using Pixels = std::vector<std::uint8_t>;

struct TempFolder {
  fs::path path;
  TempFolder() {
    std::string name = (fs::temp_directory_path() / "hairline-archive-XXXXXX").string();
    REQUIRE(::mkdtemp(name.data()) != nullptr);
    path = name;
  }
  TempFolder(const TempFolder&) = delete;
  ~TempFolder() {
    std::error_code ignored;
    fs::remove_all(path, ignored);
  }
  std::ptrdiff_t entries() const { return std::distance(fs::directory_iterator(path), fs::directory_iterator()); }
};

inline Bytes read_bytes(const fs::path& path) {
  const std::string text = read_text(path, 1u << 30).value();
  const auto* at = reinterpret_cast<const std::byte*>(text.data());
  return {at, at + text.size()};
}

inline std::string text_of(const Bytes& bytes) {
  return {reinterpret_cast<const char*>(bytes.data()), bytes.size()};
}

struct File {
  std::string name;
  std::string content;
};

inline void write_zip(const fs::path& path, const std::vector<File>& files, bool packed = false) {
  zip_t* zip = zip_open(path.c_str(), ZIP_CREATE | ZIP_TRUNCATE, nullptr);
  REQUIRE(zip != nullptr);
  for (const File& file : files) {
    if (file.name.back() == '/') {
      REQUIRE(zip_dir_add(zip, file.name.c_str(), 0) >= 0);
      continue;
    }
    zip_source_t* source = zip_source_buffer(zip, file.content.data(), file.content.size(), 0);
    const zip_int64_t index = zip_file_add(zip, file.name.c_str(), source, 0);
    REQUIRE(index >= 0);
    REQUIRE(zip_set_file_compression(zip, static_cast<zip_uint64_t>(index), packed ? ZIP_CM_DEFLATE : ZIP_CM_STORE,
                                     9) == 0);
  }
  REQUIRE(zip_close(zip) == 0);
}

inline void write_folder(const fs::path& path, const std::vector<File>& files) {
  fs::create_directories(path);
  for (const File& file : files) {
    fs::create_directories((path / file.name).parent_path());
    if (file.name.back() == '/')
      fs::create_directories(path / file.name);
    else
      std::ofstream(path / file.name, std::ios::binary) << file.content;
  }
}

/// Replaces every occurrence of `from` by `to` (of equal length) in a file: the way to a ZIP that no tool would write.
inline void patch(const fs::path& path, const std::string& from, const std::string& to) {
  REQUIRE(from.size() == to.size());
  std::string text = read_text(path, 1u << 30).value();
  int count = 0;
  for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size(), ++count)
    text.replace(at, from.size(), to);
  REQUIRE(count > 0);
  std::ofstream(path, std::ios::binary) << text;
}

/// A plausible mask: discs and bars with grey edges, and some noise.
inline Pixels some_mask(Size size, std::uint32_t seed) {
  std::mt19937 random(seed);
  const auto below = [&](std::uint32_t n) { return static_cast<std::uint32_t>(random() % n); };
  Pixels pixels(std::size_t{size.width_px} * size.height_px, 0);
  for (int shape = 0; shape < 6; ++shape) {
    const std::uint32_t x0 = below(size.width_px), y0 = below(size.height_px);
    const std::uint32_t x1 = x0 + 1 + below(size.width_px - x0), y1 = y0 + 1 + below(size.height_px - y0);
    const auto value = static_cast<std::uint8_t>(below(3) == 0 ? below(256) : 255);
    for (std::uint32_t y = y0; y < y1; ++y)
      for (std::uint32_t x = x0; x < x1; ++x) pixels[std::size_t{y} * size.width_px + x] = value;
  }
  for (std::size_t i = 0; i < pixels.size() / 50; ++i)
    pixels[below(static_cast<std::uint32_t>(pixels.size()))] = static_cast<std::uint8_t>(below(256));
  return pixels;
}

inline JobSettings small_settings(std::uint32_t layers, Size size = {20, 12}) {
  JobSettings job;
  job.title = "gallery deck";
  job.size = size;
  job.layer_count = layers;
  job.normal_s = 2.5;
  job.base_s = 30;
  job.base_layers = 1;
  return job;
}

inline std::string png_text(const Layer& layer) {
  return text_of(encode_png(layer));
}

/// manifest.json and `count` layers of small masks, layer n drawn from seed n.
inline std::vector<File> small_job(std::uint32_t count, Size size = {20, 12}) {
  std::vector<File> files{{"manifest.json", write_manifest(small_settings(count, size))}};
  for (std::uint32_t n = 1; n <= count; ++n) {
    std::string name = "layers/00000.png";
    const std::string digits = std::to_string(n);
    name.replace(12 - digits.size(), digits.size(), digits);
    files.push_back({name, png_text(encode(some_mask(size, n), size))});
  }
  return files;
}

inline bool same(const Layer& a, const Layer& b) {
  return a.size == b.size && a.rows == b.rows && a.runs == b.runs;
}

}  // namespace archive_test
