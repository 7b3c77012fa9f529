// The model part of a 3MF package, beside five sound sheets: what opens as an image stack is of their size.
#include "hairline/archive.hpp"
#include "target.hpp"

using namespace hairline;

namespace {

constexpr Size size{20, 10};

std::filesystem::path package() {
  const std::filesystem::path path = fuzz::folder() / "quay";
  fuzz::write_file(
      path / "_rels/.rels",
      R"(<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship )"
      R"(Target="/3D/quay.model" Id="r" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>)");
  std::vector<std::uint8_t> pixels(std::size_t{size.width_px} * size.height_px, 0);
  for (char sheet = 'a'; sheet <= 'e'; ++sheet) {
    pixels[static_cast<std::size_t>(50 + sheet - 'a')] = 255;
    const auto png = encode_png(encode(pixels, size));
    fuzz::write_file(path / "3D/volumetric/quay" / (std::string(1, sheet) + ".png"),
                     {reinterpret_cast<const char*>(png.data()), png.size()});
  }
  return path;
}

}  // namespace

void hairline::fuzz::run(std::string_view input) {
  static const std::filesystem::path path = package();
  static const OpenOptions options{.set = {{"exposure.normal_s", "2.5"}}};
  write_file(path / "3D/quay.model", input);
  const auto archive = Archive::open(path, options);
  if (!archive) return expect_told(archive.error());
  const JobSettings& job = archive->settings();
  expect(job.size == size && job.layer_count >= 1, "the sheets' own size");
  expect(job.pitch.x_mm > 0 && job.pitch.y_mm > 0 && job.height_mm > 0, "a pitch and a layer height");
  for (std::uint32_t number = 1; number <= job.layer_count; ++number)
    expect(archive->read_layer(number).has_value(), "a sound sheet is read");
}
