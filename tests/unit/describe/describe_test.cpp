// Drafts of descriptions: archives of invented programs, in many wordings, against the settings they were made with.
#include "hairline/describe.hpp"

#include <cmath>
#include <opencv2/imgcodecs.hpp>

#include "hairline/layer.hpp"
#include "invented.hpp"

using namespace archive_test;

namespace {

/// Layer n of the stack that all of them hold.
Pixels mask_of(std::uint32_t n) {
  Pixels pixels = some_mask(invented_size, n);
  for (std::uint32_t x = 0; x < invented_size.width_px; ++x)  // a dark border, as on any plate
    pixels[x] = pixels[pixels.size() - 1 - x] = 0;
  for (std::uint32_t y = 0; y < invented_size.height_px; ++y)
    pixels[y * invented_size.width_px] = pixels[(y + 1) * invented_size.width_px - 1] = 0;
  return pixels;
}

std::string numbered(const std::string& pattern, std::uint32_t n) {
  const std::size_t at = pattern.find_first_of("0123456789"), end = pattern.find_first_not_of("0123456789", at);
  const std::string first = pattern.substr(at, end - at);
  std::string digits = std::to_string(static_cast<std::uint32_t>(std::stoul(first)) + n - 1);
  if (first.size() > digits.size()) digits.insert(0, first.size() - digits.size(), '0');
  return pattern.substr(0, at) + digits + pattern.substr(end);
}

std::vector<File> files_of(const Invented& one) {
  std::vector<File> out = one.texts;
  if (one.previews) {
    out.push_back({"preview.png", png_text(encode(some_mask({80, 60}, 900), {80, 60}))});
    out.push_back({"thumb/2.png", png_text(encode(some_mask({40, 30}, 901), {40, 30}))});
  }
  for (std::uint32_t n = invented_layers; n >= 1; --n)  // not in order
    out.push_back({numbered(one.masks, n), png_text(encode(mask_of(n), invented_size))});
  return out;
}

bool near(double a, double b) {
  return std::abs(a - b) <= 1e-9 * std::max(std::abs(a), std::abs(b));
}

const DraftSetting* setting(const Draft& draft, const std::string& path) {
  for (const DraftSetting& one : draft.settings)
    if (one.source.path == path) return &one;
  return nullptr;
}

std::string listed(const Draft& draft) {
  std::string out;
  for (const DraftSetting& one : draft.settings)
    out += one.source.path + " = " + one.value + " [" + one.found + " " + one.unit + "] " + one.source.entry + " " +
           one.source.key + " (" + std::to_string(static_cast<int>(one.sureness)) + ") " + one.why + "\n";
  for (const UnusedNumber& one : draft.unused) out += "unused " + one.key + " = " + one.found + " " + one.why + "\n";
  for (const std::string& note : draft.notes) out += note + "\n";
  return out;
}

/// How many of the stated settings a draft has right; what it has wrong, as text.
std::size_t right_in(const Draft& draft, const Invented& one, std::string& wrong) {
  std::size_t right = 0;
  for (const auto& [path, expected] : one.there) {
    const DraftSetting* found = setting(draft, path);
    const auto number = found != nullptr ? leading_number(found->value) : std::nullopt;
    if (number && near(*number, expected))
      ++right;
    else
      wrong += one.name + ": " + path + " is " + (found != nullptr ? found->value : "not there") + "\n";
  }
  return right;
}

/// What a person answers where a draft asks.
void answer_all(Draft& draft, const Invented& one) {
  const std::vector<DraftSetting> settings = draft.settings;
  for (const DraftSetting& asked : settings) {
    if (asked.source.from != SettingSource::From::ask) continue;
    const auto known = one.there.find(asked.source.path);
    REQUIRE(known != one.there.end());
    REQUIRE(answer(draft, {asked.source.path, std::to_string(known->second)}));
  }
}

}  // namespace

TEST_CASE("drafts of invented archives are right in masks and in at least four settings of five") {
  std::size_t right = 0, there = 0;
  std::string wrong;
  for (const Invented& one : all_invented()) {
    for (const bool zip : {true, false}) {
      const TempFolder folder;
      const fs::path path = folder.path / (zip ? "own.zip" : "own");
      zip ? write_zip(path, files_of(one)) : write_folder(path, files_of(one));
      const auto draft = draft_description(path);
      INFO(one.name << (draft ? "" : to_paragraph(draft.error())));
      REQUIRE(draft);
      INFO(listed(*draft));
      CHECK(draft->masks.count == invented_layers);
      CHECK(draft->masks.size == invented_size);
      CHECK_FALSE(draft->masks.inverted);
      CHECK(draft->masks.left_out.size() == (one.previews ? 2 : 0));
      std::string own_wrong;
      const std::size_t own = right_in(*draft, one, own_wrong);
      INFO(own_wrong);
      CHECK(5 * own >= 4 * one.there.size());
      right += own, there += one.there.size();
      wrong += own_wrong;
    }
  }
  INFO(wrong << right << " of " << there);
  CHECK(10 * right >= 9 * there);
}

TEST_CASE("by its draft an invented archive is read as the same stack of our own is") {
  for (const Invented& one : all_invented()) {
    const TempFolder folder;
    write_zip(folder.path / "own.zip", files_of(one));
    auto draft = draft_description(folder.path / "own.zip");
    REQUIRE(draft);
    answer_all(*draft, one);
    // Through its file, as a person keeps it.
    const auto kept = parse_description(write_description(draft->description), "kept.json");
    REQUIRE(kept);
    OpenOptions options;
    options.known = {*kept};
    const auto archive = Archive::open(folder.path / "own.zip", options);
    INFO(one.name << "\n" << (archive ? "" : to_paragraph(archive.error())) << listed(*draft));
    REQUIRE(archive);
    const JobSettings& job = archive->settings();
    REQUIRE(job.layer_count == invented_layers);
    for (std::uint32_t n = 1; n <= invented_layers; ++n) {
      const auto layer = archive->read_layer(n);
      REQUIRE(layer);
      CHECK(same(*layer, encode(mask_of(n), invented_size)));
    }
    const auto is = [&](const char* path, double value) {
      const auto stated = one.there.find(path);
      return stated == one.there.end() || near(stated->second, value);
    };
    CHECK(is("layers.height_mm", job.height_mm));
    CHECK(is("exposure.normal_s", job.normal_s));
    CHECK(is("image.pitch_x_mm", job.pitch.x_mm));
    CHECK(is("image.pitch_y_mm", job.pitch.y_mm));
  }
}

namespace {

/// The texts of one invented archive with other masks: `picture` gives the PNG of layer n.
template <class Picture>
std::vector<File> with_masks(std::vector<File> files, Picture picture) {
  for (std::uint32_t n = 1; n <= 5; ++n) files.push_back({"out/" + std::to_string(n) + ".png", picture(n)});
  return files;
}

Result<Draft> drafted(const std::vector<File>& files, const TempFolder& folder, const char* name = "own.zip") {
  write_zip(folder.path / name, files);
  return draft_description(folder.path / name);
}

std::string grey(std::uint32_t n, bool inverted = false) {
  Pixels pixels = mask_of(n);
  if (inverted)
    for (std::uint8_t& pixel : pixels) pixel = static_cast<std::uint8_t>(255 - pixel);
  return png_text(encode(pixels, invented_size));
}

/// Three grey values of a row in each colour pixel, by OpenCV's encoder.
std::string colour(std::uint32_t n) {
  const Pixels pixels = mask_of(n);
  const int width = static_cast<int>(invented_size.width_px / 3), height = static_cast<int>(invented_size.height_px);
  cv::Mat picture(height, width, CV_8UC3);
  for (int y = 0; y < height; ++y)
    for (int x = 0; x < 3 * width; ++x)  // OpenCV keeps blue first
      picture.at<cv::Vec3b>(y, x / 3)[2 - x % 3] = pixels[static_cast<std::size_t>(y * 3 * width + x)];
  std::vector<unsigned char> bytes;
  REQUIRE(cv::imencode(".png", picture, bytes));
  return {bytes.begin(), bytes.end()};
}

const File plain_ini{"job.ini", "layer_um=50\nexposure_ms=2500\npixel_um=50\n"};

OpenOptions by(const Draft& draft) {
  OpenOptions options;
  options.description = draft.description;
  return options;
}

}  // namespace

TEST_CASE("whether inverted masks are meant so is asked, never assumed") {
  const TempFolder folder;
  auto draft = drafted(with_masks({plain_ini}, [](std::uint32_t n) { return grey(n, true); }), folder);
  REQUIRE(draft);
  CHECK(draft->masks.inverted);
  CHECK_FALSE(draft->description.invert);
  const auto refused = Archive::open(folder.path / "own.zip", by(*draft));
  REQUIRE_FALSE(refused);
  CHECK(refused.error().kind == ErrorKind::usage);
  CHECK_THAT(refused.error().command, Catch::Contains("masks.invert=true"));
  REQUIRE(answer(*draft, {"masks.invert", "yes"}));
  const auto archive = Archive::open(folder.path / "own.zip", by(*draft));
  REQUIRE(archive);
  CHECK(same(archive->read_layer(3).value(), encode(mask_of(3), invented_size)));
}

TEST_CASE("where the base has a time of its own, it is asked of how many layers") {
  const TempFolder folder;
  const File ini{"job.ini", "layer_um=50\nexposure_ms=2500\nbase_exposure_ms=30000\npixel_um=50\n"};
  auto draft = drafted(with_masks({ini}, [](std::uint32_t n) { return grey(n); }), folder);
  REQUIRE(draft);
  const DraftSetting* base_layers = setting(*draft, "exposure.base_layers");
  REQUIRE(base_layers != nullptr);
  CHECK(base_layers->source.from == SettingSource::From::ask);
  const auto refused = Archive::open(folder.path / "own.zip", by(*draft));
  REQUIRE_FALSE(refused);
  CHECK_THAT(refused.error().command, Catch::Contains("--base-layers"));
}

TEST_CASE("a key that says inverted is believed where the masks look it") {
  const TempFolder folder;
  File ini = plain_ini;
  ini.content += "inverted = true\n";
  const auto draft = drafted(with_masks({ini}, [](std::uint32_t n) { return grey(n, true); }), folder);
  REQUIRE(draft);
  REQUIRE(setting(*draft, "masks.invert") != nullptr);
  const auto archive = Archive::open(folder.path / "own.zip", by(*draft));
  REQUIRE(archive);
  CHECK(same(archive->read_layer(3).value(), encode(mask_of(3), invented_size)));
  const auto other = drafted(with_masks({ini}, [](std::uint32_t n) { return grey(n); }), folder);
  REQUIRE(other);
  CHECK(setting(*other, "masks.invert") == nullptr);
  REQUIRE_FALSE(other->notes.empty());
  CHECK_THAT(other->notes.front(), Catch::Contains("inverted"));
}

TEST_CASE("a flag is one in any of the words that an archive is read by") {
  const TempFolder folder;
  for (const auto& [word, says] : {std::pair{"true", true},
                                   {"True", true},
                                   {"YES", true},
                                   {"on", true},
                                   {"1", true},
                                   {"false", false},
                                   {"Off", false},
                                   {"no", false},
                                   {"0", false}}) {
    INFO(word);
    File ini = plain_ini;
    ini.content += std::string("mirrored = ") + word + "\n";
    const auto draft = drafted(with_masks({ini}, [](std::uint32_t n) { return grey(n); }), folder);
    REQUIRE(draft);
    REQUIRE(setting(*draft, "image.mirrored") != nullptr);
    const auto archive = Archive::open(folder.path / "own.zip", by(*draft));
    REQUIRE(archive);
    CHECK(archive->settings().mirrored == says);
  }
}

TEST_CASE("grey values side by side in colour pixels are proposed, and sure where the width says so") {
  for (const bool stated : {false, true}) {
    const TempFolder folder;
    File ini = plain_ini;
    if (stated) ini.content += "resolution_x = 600\n";
    const auto draft =
        drafted(with_masks({ini, {"preview.png", png_text(encode(some_mask({64, 48}, 7), {64, 48}))}}, colour), folder);
    REQUIRE(draft);
    CHECK(draft->masks.left_out == std::vector<std::string>{"preview.png"});
    CHECK(draft->masks.size == Size{200, 400});
    CHECK(draft->masks.subpixels == 3u);
    CHECK(draft->masks.subpixels_sure == stated);
    CHECK((setting(*draft, "image.width_px") != nullptr) == stated);
    const auto archive = Archive::open(folder.path / "own.zip", by(*draft));
    REQUIRE(archive);
    CHECK(archive->settings().size == invented_size);
    for (std::uint32_t n = 1; n <= 5; ++n)
      CHECK(same(archive->read_layer(n).value(), encode(mask_of(n), invented_size)));
  }
}

TEST_CASE("masks alone: what is required is asked for, and nothing else is said") {
  const TempFolder folder;
  const auto files = with_masks({}, [](std::uint32_t n) { return grey(n); });
  write_folder(folder.path / "bare", files);
  auto draft = draft_description(folder.path / "bare");
  REQUIRE(draft);
  REQUIRE(draft->settings.size() == 4);
  for (const DraftSetting& one : draft->settings) CHECK(one.source.from == SettingSource::From::ask);
  for (const auto& [path, value] : {std::pair{"image.pitch_x_mm", "0,05"},
                                    {"image.pitch_y_mm", "0.05"},
                                    {"layers.height_mm", "0.05"},
                                    {"exposure.normal_s", "2.5"}})
    REQUIRE(answer(*draft, {path, value}));
  const auto kept = parse_description(write_description(draft->description), "");
  REQUIRE(kept);
  OpenOptions options;
  options.known = {*kept};
  const auto archive = Archive::open(folder.path / "bare", options);
  REQUIRE(archive);
  CHECK(archive->settings().pitch == Pitch{0.05, 0.05});
  CHECK(archive->settings().layer_count == 5);
}

TEST_CASE("which of two families are the masks is asked, never assumed") {
  const TempFolder folder;
  auto files = with_masks({plain_ini}, [](std::uint32_t n) { return grey(n); });
  for (std::uint32_t n = 1; n <= 5; ++n) files.push_back({"zz/" + std::to_string(n) + ".png", grey(n, true)});
  auto draft = drafted(files, folder);
  REQUIRE(draft);
  CHECK(masks_to_choose(*draft) == draft->masks.files + " or zz/*.png");
  REQUIRE(setting(*draft, "masks.files") != nullptr);
  CHECK(setting(*draft, "masks.files")->source.from == SettingSource::From::ask);
  CHECK_FALSE(Archive::open(folder.path / "own.zip", by(*draft)));
  CHECK_FALSE(answer(*draft, {"masks.files", "zz"}));
  REQUIRE(answer(*draft, {"masks.files", draft->masks.files}));
  const auto archive = Archive::open(folder.path / "own.zip", by(*draft));
  REQUIRE(archive);
  CHECK(same(archive->read_layer(3).value(), encode(mask_of(3), invented_size)));
}

TEST_CASE("an answer that does not fit is refused") {
  const TempFolder folder;
  auto draft = drafted(with_masks({plain_ini}, [](std::uint32_t n) { return grey(n); }), folder);
  REQUIRE(draft);
  for (const auto& [path, value] : {std::pair{"layers.height_mm", "thin"},
                                    {"exposure.base_layers", "2.5"},
                                    {"masks.invert", "perhaps"},
                                    {"masks.subpixels", "2"},
                                    {"layers.hight", "1"}}) {
    INFO(path);
    const auto answered = answer(*draft, {path, value});
    REQUIRE_FALSE(answered);
    CHECK(answered.error().kind == ErrorKind::usage);
  }
}

TEST_CASE("two that could be one setting are said to be, and a unit that does not fit is none") {
  const TempFolder folder;
  const auto masks = [](std::uint32_t n) { return grey(n); };
  const auto two =
      drafted(with_masks({{"a.ini", "exposure_s=2.5\n"}, {"b.ini", "exposure_s=3.5\nexposure_mm=1\n"}}, masks), folder);
  REQUIRE(two);
  const DraftSetting* exposure = setting(*two, "exposure.normal_s");
  REQUIRE(exposure != nullptr);
  CHECK(exposure->sureness == Sureness::unsure);
  CHECK_THAT(exposure->why, Catch::Contains("3.5"));
  const auto unlike =
      drafted(with_masks({{"a.ini", "exposure_mm=2.5\nlayer_height=3 px\nlayer_count=77\n"}}, masks), folder);
  REQUIRE(unlike);
  CHECK(setting(*unlike, "exposure.normal_s")->source.from == SettingSource::From::ask);
  CHECK(setting(*unlike, "layers.height_mm")->source.from == SettingSource::From::ask);
  CHECK(setting(*unlike, "layers.count") == nullptr);
  CHECK(unlike->unused.size() == 3);
}

TEST_CASE("lists of single layers are no settings") {
  const TempFolder folder;
  const auto masks = [](std::uint32_t n) { return grey(n); };
  std::string ini, xml = "<s>";
  for (int i = 1; i <= 12; ++i) {
    ini += "[layer " + std::to_string(i) + "]\nexposure_s = 9\nheight_mm = 0.07\n";
    xml += "<layer exposure_s='9' height_mm='0.07'/>";
  }
  const auto draft = drafted(
      with_masks({{"a.ini", ini}, {"a.xml", xml + "</s>"}, {"a.json", "{\"exposure_s\": [" + long_list() + "]}"}},
                 masks),
      folder);
  REQUIRE(draft);
  for (const DraftSetting& one : draft->settings) CHECK(one.source.from == SettingSource::From::ask);
}

TEST_CASE(
    "a text too large is named and passed over, an archive over the limits is not, and one of our own needs no draft") {
  const TempFolder folder;
  const auto masks = [](std::uint32_t n) { return grey(n); };
  const auto draft = drafted(with_masks({plain_ini, {"big.json", std::string(2'000'000, ' ')}}, masks), folder);
  REQUIRE(draft);
  REQUIRE(draft->notes.size() == 1);
  CHECK_THAT(draft->notes.front(), Catch::Contains("big.json") && Catch::Contains("2000000"));
  CHECK(setting(*draft, "layers.height_mm")->value == "0.05");
  Limits few;
  few.entries = 6;
  const auto many = draft_description(folder.path / "own.zip", few);
  REQUIRE_FALSE(many);
  CHECK(many.error().kind == ErrorKind::limit);
  write_zip(folder.path / "ours.zip", small_job(3));
  const auto ours = draft_description(folder.path / "ours.zip");
  REQUIRE_FALSE(ours);
  CHECK(ours.error().kind == ErrorKind::usage);
  write_zip(folder.path / "none.zip", {plain_ini});
  const auto none = draft_description(folder.path / "none.zip");
  REQUIRE_FALSE(none);
  CHECK(none.error().kind == ErrorKind::not_found);
}

TEST_CASE("a pitch that the plate contradicts is not sure") {
  const TempFolder folder;
  const auto masks = [](std::uint32_t n) { return grey(n); };
  const auto draft = drafted(with_masks({{"a.ini", "pixel_um=40\nplate_x_mm=30\nplate_y_mm=20\n"}}, masks), folder);
  REQUIRE(draft);
  const DraftSetting* pitch = setting(*draft, "image.pitch_x_mm");
  REQUIRE(pitch != nullptr);
  CHECK(pitch->value == "0.04");
  CHECK(pitch->sureness == Sureness::unsure);
  CHECK_THAT(pitch->why, Catch::Contains("0.05"));
}
