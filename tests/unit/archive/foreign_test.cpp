// Archives of other programs: which pictures are the masks, how their pixels are meant, and what is asked.
#include <fmt/format.h>

#include <functional>

#include "any_png.hpp"

using namespace archive_test;

namespace {

constexpr Size size{20, 12};
constexpr std::uint32_t layers = 4;
using Values = std::vector<SettingValue>;

const Values four = {{"image.pitch_x_mm", "0.05"},
                     {"image.pitch_y_mm", "0.05"},
                     {"layers.height_mm", "0.05"},
                     {"exposure.normal_s", "2.5"}};

Values with(Values values, const Values& more) {
  values.insert(values.end(), more.begin(), more.end());
  return values;
}

Layer wanted(std::uint32_t number, bool two_values = false) {
  return encode(framed_mask(size, number, two_values), size);
}

using Name = std::function<std::string(std::uint32_t number)>;
std::string plain_name(std::uint32_t number) {
  return fmt::format("{}.png", number);
}

std::vector<File> stack(const Name& name, const PngKind& kind = {}, bool two_values = false, bool negative = false) {
  std::vector<File> files;
  for (std::uint32_t n = 1; n <= layers; ++n) {
    Pixels pixels = framed_mask(size, n, two_values);
    if (negative)
      for (std::uint8_t& pixel : pixels) pixel = static_cast<std::uint8_t>(255 - pixel);
    files.push_back({name(n), png_of_grey(pixels, size, kind)});
  }
  return files;
}

Result<Archive> open(const std::vector<File>& files, const Values& set = four) {
  static int count = 0;
  static const TempFolder temp;
  const fs::path path = temp.path / fmt::format("{}.zip", ++count);
  write_zip(path, files);
  OpenOptions options;
  options.set = set;
  return Archive::open(path, options);
}

Archive sound(const std::vector<File>& files, const Values& set = four) {
  auto archive = open(files, set);
  INFO((archive ? "" : to_paragraph(archive.error())));
  REQUIRE(archive);
  return std::move(*archive);
}

void expect_stack(const Archive& archive, bool two_values = false) {
  CHECK(archive.settings().size == size);
  REQUIRE(archive.settings().layer_count == layers);
  for (std::uint32_t n = 1; n <= layers; ++n) CHECK(same(archive.read_layer(n).value(), wanted(n, two_values)));
}

Error refused(const std::vector<File>& files, ErrorKind kind, const std::string& part, const Values& set = four) {
  const auto archive = open(files, set);
  REQUIRE(!archive);
  INFO(to_paragraph(archive.error()));
  CHECK(to_string(archive.error().kind) == to_string(kind));
  CHECK(to_paragraph(archive.error()).find(part) != std::string::npos);
  return archive.error();
}

std::string preview(Size of = {8, 6}) {
  return png_text(encode(some_mask(of, 7), of));
}

}  // namespace

TEST_CASE("masks of every kind of grey open as they are") {
  for (const bool interlaced : {false, true}) {
    INFO("interlaced " << interlaced);
    for (const PngKind kind : {PngKind{8, grey}, PngKind{16, grey}, PngKind{8, palette}, PngKind{8, rgb},
                               PngKind{16, rgb}, PngKind{8, grey_alpha}, PngKind{8, rgb_alpha}}) {
      INFO("colour " << kind.colour << " depth " << kind.depth);
      expect_stack(sound(stack(plain_name, {kind.depth, kind.colour, interlaced})));
    }
    expect_stack(sound(stack(plain_name, {1, grey, interlaced}, true)), true);
    expect_stack(sound(stack(plain_name, {1, palette, interlaced}, true)), true);
  }
}

TEST_CASE("inverted masks are asked for and never assumed") {
  const auto files = stack(plain_name, {}, false, true);
  const Error error = refused(files, ErrorKind::usage, "whether white is where no light falls");
  CHECK(error.command.find("--set masks.invert=true") != std::string::npos);
  expect_stack(sound(files, with(four, {{"masks.invert", "true"}})));
  const Archive as_is = sound(files, with(four, {{"masks.invert", "false"}}));
  CHECK(same(as_is.read_layer(1).value(), inverted(wanted(1))));
  CHECK(as_is.stored_as_shown());
}

TEST_CASE("three grey values in a colour pixel make the image three times as wide") {
  std::vector<File> files;
  const Size wide{3 * 8, 12};
  for (std::uint32_t n = 1; n <= layers; ++n) {
    const Pixels pixels = framed_mask(wide, n);
    files.push_back({plain_name(n), png_of({pixels.begin(), pixels.end()}, {8, 12}, {8, rgb})});
  }
  const Error error = refused(files, ErrorKind::usage, "grey values side by side in one colour pixel");
  CHECK(error.command.find("--set masks.subpixels=3") != std::string::npos);
  const Archive archive = sound(files, with(four, {{"masks.subpixels", "3"}, {"image.width_px", "24"}}));
  CHECK(archive.settings().size == wide);
  for (std::uint32_t n = 1; n <= layers; ++n)
    CHECK(same(archive.read_layer(n).value(), encode(framed_mask(wide, n), wide)));
  CHECK(sound(files, with(four, {{"masks.subpixels", "1"}})).settings().size == Size{8, 12});
  refused(files, ErrorKind::mismatch, "image.width_px",
          with(four, {{"masks.subpixels", "3"}, {"image.width_px", "8"}}));
  refused(files, ErrorKind::usage, "1 or 3", with(four, {{"masks.subpixels", "2"}}));
}

TEST_CASE("masks are found by their numbers, however they are written") {
  const auto named = [](const Name& name) { expect_stack(sound(stack(name))); };
  SECTION("from 0, 1, another number, over a change of length") {
    named([](std::uint32_t n) { return fmt::format("{}.png", n - 1); });
    named(plain_name);
    named([](std::uint32_t n) { return fmt::format("{}.png", n + 998); });
    named([](std::uint32_t n) { return fmt::format("{}.png", n + 7); });
  }
  SECTION("with zeros before, in folders, in capitals, with other numbers beside") {
    named([](std::uint32_t n) { return fmt::format("{:04}.png", n); });
    named([](std::uint32_t n) { return fmt::format("job 7/out/layer_{}.png", n + 8); });
    named([](std::uint32_t n) { return fmt::format("OUT/MASK{:03}.PNG", n); });
    named([](std::uint32_t n) { return fmt::format("run2/{}-of-4.png", n); });
  }
  SECTION("what systems leave behind is passed over") {
    auto files = stack([](std::uint32_t n) { return fmt::format("out/{}.png", n); });
    for (std::uint32_t n = 1; n <= 9; ++n) {
      files.push_back({fmt::format("__MACOSX/out/._{}.png", n), "no picture"});
      files.push_back({fmt::format(".trash/{}.png", n), preview(size)});
    }
    files.push_back({"out/.DS_Store", "x"});
    const Archive archive = sound(files);
    expect_stack(archive);
    CHECK(archive.settings().remarks.empty());
  }
}

TEST_CASE("previews and stray pictures are left out and named") {
  SECTION("of another size in the same folder, with a number of their own") {
    auto files = stack(plain_name);
    files.push_back({"0.png", preview()});
    files.push_back({"thumbnail_400.png", preview({40, 40})});
    const Archive archive = sound(files);
    expect_stack(archive);
    CHECK(archive.settings().remarks ==
          std::vector<std::string>{"Not used, for they are no layers: \"0.png\" and \"thumbnail_400.png\"."});
  }
  SECTION("a smaller copy of every mask: the larger pictures are the masks") {
    auto files = stack([](std::uint32_t n) { return fmt::format("z/{}.png", n); });
    for (std::uint32_t n = 1; n <= layers; ++n) files.push_back({fmt::format("a/{}.png", n), preview()});
    expect_stack(sound(files));
  }
  SECTION("beside the masks of an archive of our own") {
    auto files = small_job(3);
    files.push_back({"preview.png", preview()});
    const Archive archive = sound(files, {});
    CHECK(archive.settings().layer_count == 3);
    CHECK(archive.settings().remarks == std::vector<std::string>{"Not used, for they are no layers: \"preview.png\"."});
  }
}

TEST_CASE("two families of equal count and size are told apart by a name only") {
  auto files = stack([](std::uint32_t n) { return fmt::format("a/{}.png", n); });
  for (std::uint32_t n = 1; n <= layers; ++n)
    files.push_back({fmt::format("b/{}.png", n), png_text(encode(framed_mask(size, 50 + n), size))});
  const Archive chosen = sound(files, with(four, {{"masks.files", "b/*.png"}}));
  CHECK(same(chosen.read_layer(1).value(), encode(framed_mask(size, 51), size)));
  const Error error = refused(files, ErrorKind::usage, "names of the masks");
  CHECK(error.command.find("--set 'masks.files=a/*.png'") != std::string::npos);
}

// Layers of one job in several folders were checked for the first of them alone. Common practice, no source.
TEST_CASE("like pictures of the same size in another folder are asked about, however many") {
  const auto in_folders = [](std::uint32_t n) { return fmt::format("part {}/{}.png", n / 4, n); };
  const Error error = refused(stack(in_folders), ErrorKind::usage, "(and others \"part 1/*.png\")");
  CHECK(to_paragraph(error).find("put all into one folder") != std::string::npos);
  auto files = stack([](std::uint32_t n) { return fmt::format("out/{}.png", n); });
  files.push_back({"other/cover.png", files[0].content});  // no number: no layer of anything
  expect_stack(sound(files));
}

TEST_CASE("where there are no masks, what there is instead is named") {
  refused({{"job.zip", "PK"}}, ErrorKind::not_found, "it holds \"job.zip\"; expected");
  refused({{"1.png", "\xFF\xD8"}, {"2.png", "\xFF\xD8"}}, ErrorKind::not_found,
          "\"1.png\" and 1 more file; 2 called .png are no PNG");
}

TEST_CASE("numbers that go up in even steps are said to, and no layer is called missing") {
  const auto by_height = [](std::uint32_t n) { return fmt::format("{:04}.png", 50 * n); };
  CHECK_FALSE(refused(stack(by_height), ErrorKind::mismatch, "steps of 50: \"0050.png\", \"0100.png\"").layer);
  refused(stack([](std::uint32_t n) { return fmt::format("{}.png", static_cast<char>('a' + n)); }), ErrorKind::mismatch,
          "Name the masks with --set", with(four, {{"masks.files", "*.png"}}));
}

TEST_CASE("holes and doubles in the numbering are errors that name the layer") {
  auto files = stack(plain_name);
  files.erase(files.begin() + 2);
  const Error hole = refused(files, ErrorKind::mismatch, "there is no \"3.png\"");
  CHECK(hole.layer == 3u);
  auto from_zero = stack([](std::uint32_t n) { return fmt::format("m/{:03}.png", n - 1); });
  from_zero.erase(from_zero.begin() + 1);
  CHECK(refused(from_zero, ErrorKind::mismatch, "there is no \"m/001.png\"").layer == 2u);
  auto twice = stack(plain_name);
  twice.push_back({"03.png", twice[2].content});
  CHECK(refused(twice, ErrorKind::mismatch, "two files for the layer").layer == 3u);
  refused(stack(plain_name), ErrorKind::usage, "a whole number", with(four, {{"layers.count", "4.5"}}));
  refused(stack(plain_name), ErrorKind::mismatch, "5 layers, as layers.count says",
          with(four, {{"layers.count", "5"}}));
}

TEST_CASE("a mask of another size or a damaged one names its layer") {
  auto files = stack(plain_name);
  files[1].content.resize(files[1].content.size() / 2);  // of four, the first, third and last are looked at beforehand
  const Archive cut = sound(files);
  const auto layer = cut.read_layer(2);
  REQUIRE(!layer);
  CHECK(layer.error().kind == ErrorKind::broken);
  CHECK(layer.error().layer == 2u);
  auto first = stack(plain_name);
  first[0].content.resize(first[0].content.size() / 2);
  CHECK(refused(first, ErrorKind::broken, "cut off").layer == 1u);
  auto other = stack(plain_name);
  other[1].content = preview({20, 13});  // by name a layer, by size none
  CHECK(refused(other, ErrorKind::mismatch, "\"2.png\" has another size in pixels").layer == 2u);
}

TEST_CASE("a lone picture points to the folder of the masks") {
  const TempFolder temp;
  std::ofstream(temp.path / "0001.png", std::ios::binary) << preview();
  const auto archive = Archive::open(temp.path / "0001.png");
  REQUIRE(!archive);
  CHECK(archive.error().kind == ErrorKind::broken);
  CHECK(archive.error().advice == "Name the folder that holds the masks of all layers.");
}

TEST_CASE("a base exposure that is given asks of how many layers") {
  const Error error = refused(stack(plain_name), ErrorKind::usage, "nothing says the number of base layers",
                              with(four, {{"exposure.base_s", "25"}}));
  CHECK(error.command.find("--base-layers") != std::string::npos);
}

TEST_CASE("an archive that states no base has none stated") {
  const JobSettings job = sound(stack(plain_name)).settings();
  CHECK(!job.base_s);
  CHECK(job.base_layers == 0);
  CHECK(std::find(job.assumed.begin(), job.assumed.end(), "no base layers") != job.assumed.end());
  const JobSettings based =
      sound(stack(plain_name), with(four, {{"exposure.base_s", "30"}, {"exposure.base_layers", "2"}})).settings();
  CHECK(based.base_s == 30);
  CHECK(based.base_layers == 2);
}

TEST_CASE("all that is missing is asked for in one error, with the whole command") {
  OpenOptions options;
  options.command = "hairline check own.zip --pitch 0.04";
  options.set = {{"image.pitch_x_mm", "0.04"}, {"image.pitch_y_mm", "0.04"}};
  const TempFolder temp;
  write_zip(temp.path / "own.zip", stack(plain_name));
  const auto archive = Archive::open(temp.path / "own.zip", options);
  REQUIRE(!archive);
  CHECK(archive.error().kind == ErrorKind::usage);
  CHECK(archive.error().command == "hairline check own.zip --pitch 0.04 --height 0.05 --exposure 2.5");
}
