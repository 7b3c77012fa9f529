// An archive that opens has the layers it says, each of the size it says, and opens to the same ones again.
#include <optional>

#include "hairline/archive.hpp"
#include "target.hpp"

using namespace hairline;

namespace {

const OpenOptions options{
    .limits = {.pixels_per_mask = 1u << 20, .layers = 16, .manifest_bytes = 1u << 16, .entry_bytes = 1u << 20},
    .otherwise = {{"image.pitch_x_mm", "0.05"},
                  {"image.pitch_y_mm", "0.05"},
                  {"layers.height_mm", "0.05"},
                  {"exposure.normal_s", "2.5"},
                  {"masks.invert", "false"},
                  {"masks.subpixels", "1"}}};

// What reading it gives, as text.
std::string outcome(const std::filesystem::path& path) {
  const auto archive = Archive::open(path, options);
  if (!archive) return fuzz::expect_told(archive.error()), to_paragraph(archive.error());
  std::string all = write_manifest(archive->settings());
  for (std::uint32_t number = 1; number <= archive->settings().layer_count; ++number) {
    const auto layer = archive->read_layer(number);
    if (!layer) {
      fuzz::expect_told(layer.error());
      fuzz::expect(layer.error().layer == number, "a fault in a layer names it");
      all += to_paragraph(layer.error());
      continue;
    }
    fuzz::expect(layer->size == archive->settings().size, "every layer is as large as the settings say");
    const auto pixels = decode(*layer);
    all.append(pixels.begin(), pixels.end());
  }
  return all;
}

}  // namespace

void hairline::fuzz::run(std::string_view input) {
  const std::filesystem::path path = folder() / "job.zip";
  write_file(path, input);
  expect(outcome(path) == outcome(path), "the same file gives the same twice");
}
