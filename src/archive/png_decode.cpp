#include "../base/spares.hpp"
#include "hairline/archive.hpp"
#include "png_chunks.hpp"
#include "png_inflate.hpp"
#include "png_pixels.hpp"
#include "png_rows.hpp"

namespace hairline {
namespace png {
namespace {

// Lent to one layer after the other: nothing is allocated per layer once the first one has been read, but the layer
// itself.
struct Workspace {
  Parts parts;
  Inflater inflater;
  RunCollector collector;
  std::vector<std::uint8_t> zeros, values;
  Buffer pixels;  // of interlaced pictures
};

// Calls see(row) for each row of a picture, or of one pass of an interlaced one; null: it equals the row before.
template <class See>
Result<void> each_row(Workspace& work, Size size, const PngSource& source, See see) {
  const Header& header = work.parts.header;
  const auto length = static_cast<std::size_t>(row_bytes(header, size.width_px));
  FilteredRow row{nullptr, work.zeros.data(), work.zeros.data(), length, filter_step(header)};
  for (std::uint32_t r = 0; r < size.height_px; ++r) {
    const auto bytes = work.inflater.next(length + 1, row.above);
    if (!bytes) return tl::unexpected(bytes.error());
    row.bytes = *bytes;
    const RowKind kind = unfilter(row);
    if (kind == RowKind::bad_filter) return broken(source, "a row of the PNG has an unknown filter");
    if (kind == RowKind::equal && r > 0) {
      see(nullptr);
    } else {
      row.above = row.bytes + 1;
      see(row.above);
    }
  }
  return {};
}

Result<void> collect_rows(Workspace& work, Meaning meaning, const PngSource& source) {
  const Size size = work.parts.header.size;
  return each_row(work, size, source, [&](const std::uint8_t* row) {
    if (row == nullptr)
      work.collector.repeat();
    else
      work.collector.add(row_values(work.parts, meaning, row, size.width_px, work.values));
  });
}

// Row `r` of a pass, put where its pixels belong in the picture.
void scatter(const Pass& pass, std::uint32_t r, const std::uint8_t* values, Size size, std::size_t per_pixel,
             std::uint8_t* pixels) {
  pixels += (std::size_t{pass.y0 + r * pass.dy} * size.width_px + pass.x0) * per_pixel;
  for (std::uint32_t c = pass_size(pass, size).width_px; c > 0; --c, pixels += pass.dx * per_pixel)
    for (std::size_t k = 0; k < per_pixel; ++k) pixels[k] = *values++;
}

Result<void> collect_passes(Workspace& work, Meaning meaning, const PngSource& source) {
  const Size size = work.parts.header.size;
  const auto per_pixel = static_cast<std::size_t>(meaning);
  const std::size_t width = size.width_px * per_pixel;
  std::uint8_t* pixels = work.pixels.reserve(width * size.height_px);
  if (pixels == nullptr) return out_of_memory(source, width * size.height_px);
  for (const Pass& pass : passes) {
    const Size part = pass_size(pass, size);
    if (part.width_px == 0) continue;
    const std::uint8_t* values = nullptr;
    std::uint32_t r = 0;
    const auto seen = each_row(work, part, source, [&](const std::uint8_t* row) {
      if (row != nullptr) values = row_values(work.parts, meaning, row, part.width_px, work.values);
      scatter(pass, r++, values, size, per_pixel, pixels);
    });
    if (!seen) return seen;
  }
  for (std::uint32_t r = 0; r < size.height_px; ++r) work.collector.add(pixels + r * width);
  return {};
}

Result<Layer> decode(std::span<const std::byte> file, Size expected, const PngSource& source, const Limits& limits,
                     Meaning meaning) {
  static Spares<Workspace> spares;
  const auto lent = spares.lend();
  Workspace& work = *lent;
  const Bytes bytes(reinterpret_cast<const std::uint8_t*>(file.data()), file.size());
  if (auto sound = take_apart(bytes, expected, source, limits, work.parts); !sound)
    return tl::unexpected(std::move(sound.error()));
  if (auto started = work.inflater.start(work.parts, source, limits); !started)
    return tl::unexpected(std::move(started.error()));
  const auto per_pixel = static_cast<std::uint32_t>(meaning);
  const auto length = static_cast<std::size_t>(row_bytes(work.parts.header, expected.width_px));
  if (work.zeros.size() < length) work.zeros.resize(length);
  if (work.values.size() < std::size_t{expected.width_px} * per_pixel)
    work.values.resize(std::size_t{expected.width_px} * per_pixel);
  work.collector.start({expected.width_px * per_pixel, expected.height_px}, limits.runs_per_mask());
  const auto collected =
      (work.parts.header.interlaced ? collect_passes(work, meaning, source) : collect_rows(work, meaning, source))
          .and_then([&] { return work.inflater.finish(); });
  if (!collected) return tl::unexpected(collected.error());
  return work.collector.take(source);
}

}  // namespace
}  // namespace png

Result<Layer> decode_png(std::span<const std::byte> file, Size expected, const PngSource& source,
                         const Limits& limits) {
  return png::decode(file, expected, source, limits, png::Meaning::grey);
}

Result<Layer> decode_subpixels(std::span<const std::byte> file, Size expected, const PngSource& source,
                               const Limits& limits) {
  return png::decode(file, {expected.width_px / 3, expected.height_px}, source, limits, png::Meaning::subpixels);
}

}  // namespace hairline
