#include <cstring>

#include "hairline/archive.hpp"
#include "png_any.hpp"
#include "png_chunks.hpp"
#include "png_inflate.hpp"
#include "png_rows.hpp"

namespace hairline {
namespace png {
namespace {

// One per thread: nothing is allocated per layer once the first one has been read, but the layer itself.
struct Workspace {
  Parts parts;
  Inflater inflater;
  RunCollector collector;
  std::vector<std::uint8_t> zeros, grey;
};

bool is_common(const Parts& parts) {
  const Header& header = parts.header;
  if (header.interlaced || !parts.transparency.empty()) return false;
  if (header.colour == Colour::grey) return header.depth == 8 || header.depth == 1;
  return header.depth == 8 && (header.colour == Colour::rgb || header.colour == Colour::rgb_alpha);
}

void grey_from_bits(const std::uint8_t* bits, std::uint8_t* grey, std::uint32_t width) {
  for (std::uint32_t x = 0; x < width; ++x) grey[x] = (bits[x / 8] >> (7 - x % 8)) & 1 ? 255 : 0;
}

void grey_from_colour(const std::uint8_t* colour, std::uint8_t* grey, std::uint32_t width) {
  for (std::uint32_t x = 0; x < width; ++x, colour += 3) grey[x] = luma(colour[0], colour[1], colour[2]);
}

void grey_from_colour_alpha(const std::uint8_t* colour, std::uint8_t* grey, std::uint32_t width) {
  for (std::uint32_t x = 0; x < width; ++x, colour += 4)
    grey[x] = over_black(luma(colour[0], colour[1], colour[2]), colour[3]);
}

// The row itself where it is 8-bit grey already, else `grey` filled from it.
const std::uint8_t* to_grey(const Header& header, const std::uint8_t* row, std::vector<std::uint8_t>& grey) {
  const std::uint32_t width = header.size.width_px;
  if (header.colour == Colour::grey && header.depth == 8) return row;
  if (header.colour == Colour::grey)
    grey_from_bits(row, grey.data(), width);
  else if (header.colour == Colour::rgb)
    grey_from_colour(row, grey.data(), width);
  else
    grey_from_colour_alpha(row, grey.data(), width);
  return grey.data();
}

Result<Layer> decode_common(std::uint8_t* raw, const PngSource& source, const Limits& limits, Workspace& work) {
  const Header& header = work.parts.header;
  const auto length = static_cast<std::size_t>(row_bytes(header, header.size.width_px));
  if (work.zeros.size() < length) work.zeros.resize(length);
  if (work.grey.size() < header.size.width_px) work.grey.resize(header.size.width_px);
  FilteredRow row{raw, work.zeros.data(), work.zeros.data(), length, filter_step(header)};
  work.collector.start(header.size, limits.runs_per_mask());
  for (std::uint32_t r = 0; r < header.size.height_px; ++r, row.bytes += length + 1) {
    switch (unfilter(row)) {
      case RowKind::equal:
        work.collector.repeat();
        break;
      case RowKind::changed:
        row.above = row.bytes + 1;
        work.collector.add(to_grey(header, row.above, work.grey));
        break;
      case RowKind::bad_filter:
        return broken(source, "a row of the PNG has an unknown filter");
    }
  }
  return work.collector.take(source);
}

}  // namespace
}  // namespace png

namespace {

// Taken apart, and inflated for every kind: what follows then meets data of the right length only, however it was
// packed. The raw rows.
Result<std::uint8_t*> inflated(std::span<const std::byte> file, Size expected, const PngSource& source,
                               const Limits& limits, png::Workspace& work) {
  const png::Bytes bytes(reinterpret_cast<const std::uint8_t*>(file.data()), file.size());
  if (auto sound = png::take_apart(bytes, expected, source, limits, work.parts); !sound)
    return tl::unexpected(std::move(sound.error()));
  return work.inflater.inflate(work.parts, source);
}

Result<Layer> layer_of(const std::vector<std::uint8_t>& pixels, Size size, const PngSource& source,
                       const Limits& limits, png::Workspace& work) {
  work.collector.start(size, limits.runs_per_mask());
  for (std::uint32_t r = 0; r < size.height_px; ++r) work.collector.add(pixels.data() + std::size_t{r} * size.width_px);
  return work.collector.take(source);
}

png::Workspace& workspace() {
  static thread_local png::Workspace work;
  return work;
}

}  // namespace

Result<Layer> decode_png(std::span<const std::byte> file, Size expected, const PngSource& source,
                         const Limits& limits) {
  png::Workspace& work = workspace();
  const auto raw = inflated(file, expected, source, limits, work);
  if (!raw) return tl::unexpected(raw.error());
  if (png::is_common(work.parts)) return png::decode_common(*raw, source, limits, work);
  const auto pixels = png::decode_any(work.parts, source);
  if (!pixels) return tl::unexpected(pixels.error());
  return layer_of(*pixels, expected, source, limits, work);
}

Result<Layer> decode_subpixels(std::span<const std::byte> file, Size expected, const PngSource& source,
                               const Limits& limits) {
  png::Workspace& work = workspace();
  const auto raw = inflated(file, {expected.width_px / 3, expected.height_px}, source, limits, work);
  if (!raw) return tl::unexpected(raw.error());
  const auto pixels = png::decode_colour(work.parts, source);
  if (!pixels) return tl::unexpected(pixels.error());
  return layer_of(*pixels, expected, source, limits, work);
}

}  // namespace hairline
