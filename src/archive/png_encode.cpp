#include <algorithm>
#include <cstring>

#include "../base/deflate.hpp"
#include "hairline/archive.hpp"
#include "png_chunks.hpp"

namespace hairline {
namespace png {
namespace {

using Row = std::vector<std::uint8_t>;

void draw_row(std::span<const Run> runs, Row& row) {
  std::fill(row.begin(), row.end(), std::uint8_t{0});
  for (const Run& run : runs) std::fill(row.begin() + run.begin, row.begin() + run.end, run.value);
}

int predicted(int kind, int left, int above, int corner) {
  if (kind == 1) return left;
  if (kind == 2) return above;
  if (kind == 3) return (left + above) / 2;
  return kind == 4 ? paeth(left, above, corner) : 0;
}

// Writes filter byte and differences to `out` (width + 1 bytes); returns the sum of their sizes taken as signed bytes.
std::uint64_t filter_row(int kind, const Row& row, const Row& above, std::uint8_t* out) {
  *out++ = static_cast<std::uint8_t>(kind);
  std::uint64_t sum = 0;
  int left = 0, corner = 0;
  for (std::size_t k = 0; k < row.size(); ++k) {
    const auto difference = static_cast<std::uint8_t>(row[k] - predicted(kind, left, above[k], corner));
    sum += difference < 128 ? difference : 256u - difference;
    *out++ = difference;
    left = row[k];
    corner = above[k];
  }
  return sum;
}

// The standard's own advice (ISO/IEC 15948, 12.8): the filter with the least sum of absolute differences.
void filter_best(const Row& row, const Row& above, Row& trial, std::uint8_t* out) {
  std::uint64_t least = UINT64_MAX;
  for (int kind = 0; kind <= 4; ++kind) {
    const std::uint64_t sum = filter_row(kind, row, above, trial.data());
    if (sum >= least) continue;
    least = sum;
    std::memcpy(out, trial.data(), trial.size());
  }
}

void filter_none(const Row& row, std::uint8_t* out) {
  *out++ = 0;
  std::memcpy(out, row.data(), row.size());
}

std::vector<std::uint8_t> filtered(const Layer& layer, PngFilter filter) {
  const std::size_t width = layer.size.width_px;
  std::vector<std::uint8_t> raw((width + 1) * layer.size.height_px);
  Row row(width), above(width), trial(width + 1);
  std::uint8_t* out = raw.data();
  for (std::uint32_t r = 0; r < layer.size.height_px; ++r, out += width + 1) {
    const bool repeats = r > 0 && layer.rows[r] == layer.rows[r - 1];
    if (repeats && filter == PngFilter::up) {
      *out = 2;  // the rest is zero already
      continue;
    }
    above.swap(row);
    if (repeats)
      row = above;
    else
      draw_row(layer.row(r), row);
    if (filter == PngFilter::none)
      filter_none(row, out);
    else if (filter == PngFilter::up)
      filter_row(2, row, above, out);
    else
      filter_best(row, above, trial, out);
  }
  return raw;
}

std::vector<std::uint8_t> compressed(const std::vector<std::uint8_t>& raw, int level) {
  const Compressor compressor = new_compressor(std::clamp(level, 0, 12));
  std::vector<std::uint8_t> data(libdeflate_zlib_compress_bound(compressor.get(), raw.size()));
  data.resize(libdeflate_zlib_compress(compressor.get(), raw.data(), raw.size(), data.data(), data.size()));
  return data;
}

std::vector<std::byte> file_of(Size size, Colour colour, Bytes palette, const std::vector<std::uint8_t>& data) {
  std::array<std::uint8_t, 13> head{};
  write_u32(&head[0], size.width_px);
  write_u32(&head[4], size.height_px);
  head[8] = 8;  // bits
  head[9] = static_cast<std::uint8_t>(colour);
  std::vector<std::byte> file;
  file.reserve(data.size() + 128);
  append_signature(file);
  append_chunk(file, "IHDR", head);
  if (!palette.empty()) append_chunk(file, "PLTE", palette);
  append_chunk(file, "IDAT", data);
  append_chunk(file, "IEND", {});
  return file;
}

}  // namespace

std::string palette_file(Size size, Bytes palette, const std::vector<std::uint8_t>& rows) {
  constexpr int fast = 1;
  const std::vector<std::byte> file = file_of(size, Colour::palette, palette, compressed(rows, fast));
  return {reinterpret_cast<const char*>(file.data()), file.size()};
}

}  // namespace png

std::vector<std::byte> encode_png(const Layer& layer, PngFilter filter, int level) {
  return png::file_of(layer.size, png::Colour::grey, {}, png::compressed(png::filtered(layer, filter), level));
}

}  // namespace hairline
