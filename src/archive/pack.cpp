// An opened archive, of whatever kind, as a layer archive of our own.
#include "hairline/archive.hpp"

namespace hairline {
namespace {

// 8-bit or 1-bit grey, not interlaced (ISO/IEC 15948, 11.2.2: depth, colour type, and at 28 the interlacing).
bool is_plain_grey(std::span<const std::byte> png) {
  const auto at = [&](std::size_t i) { return std::to_integer<int>(png[i]); };
  return png.size() > 28 && (at(24) == 8 || at(24) == 1) && at(25) == 0 && at(28) == 0;
}

Result<void> pack_layer(const Archive& archive, std::uint32_t number, ArchiveWriter& writer) {
  const auto layer = archive.read_layer(number);
  if (!layer) return tl::unexpected(layer.error());
  if (!archive.stored_as_shown()) return writer.add(*layer);
  const auto png = archive.read_png(number);
  if (!png) return tl::unexpected(png.error());
  return is_plain_grey(*png) ? writer.add_png(*png) : writer.add(*layer);
}

}  // namespace

Result<void> pack_archive(const Archive& archive, const std::filesystem::path& path, Progress& progress) {
  JobSettings settings = archive.settings();
  settings.files = JobSettings().files;
  progress.start(settings.layer_count);
  const auto add = [&](ArchiveWriter& writer, std::uint32_t number) {
    return pack_layer(archive, number, writer).and_then([&] {
      return number == settings.layer_count ? archive.unchanged() : Result<void>();
    });
  };
  return write_archive(path, settings, PngFilter::up, add, progress);
}

}  // namespace hairline
