// 3MF packages written by hand after the 3MF Consortium's Core Specification 1.2.4 (ISO/IEC 25422) and its Volumetric
// and Implicit Extensions 0.8.0.
#include <fmt/format.h>

#include "any_png.hpp"

using namespace archive_test;

namespace {

constexpr Size size{20, 10};
constexpr std::uint32_t sheets = 5;

const std::string rels = R"(<?xml version="1.0" encoding="UTF-8"?>
<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
 <Relationship Target="/Metadata/thumbnail.png" Id="rel0" Type="http://schemas.openxmlformats.org/package/2006/relationships/metadata/thumbnail"/>
 <Relationship Target="/3D/quay.model" Id="rel1" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>
</Relationships>)";

// 20 x 10 pixels of 0.05 x 0.04 mm and 5 sheets of 0.025 mm: a box of 1 x 0.4 x 0.125 mm. UVW is (0, 0, 0) at its left,
// front and lower corner and (1, 1, 1) at the opposite one (Volumetric 3.2), so that U = x / 1, V = y / 0.4, W = z /
// 0.125. White is inside: 0.5 - value is below 0 there.
const std::string model = R"(<?xml version="1.0" encoding="UTF-8"?>
<model unit="millimeter" xml:lang="en-US" requiredextensions="v" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
 xmlns:v="http://schemas.3mf.io/3dmanufacturing/volumetric/2022/01">
 <metadata name="Title">gallery deck</metadata>
 <resources>
  <v:image3d id="1" name="quay">
   <v:imagestack rowcount="10" columncount="20" sheetcount="5">
    <v:imagesheet path="/3D/volumetric/quay/e.png"/>
    <v:imagesheet path="/3D/volumetric/quay/d.png"/>
    <v:imagesheet path="/3D/volumetric/quay/c.png"/>
    <v:imagesheet path="/3D/volumetric/quay/b.png"/>
    <v:imagesheet path="/3D/volumetric/quay/a.png"/>
   </v:imagestack>
  </v:image3d>
  <v:functionfromimage3d id="2" image3did="1" valueoffset="0.5" valuescale="-1" filter="nearest"/>
  <object id="3" type="model"><mesh><vertices>
   <vertex x="0" y="0" z="0"/><vertex x="1" y="0" z="0"/><vertex x="1" y="0.4" z="0"/><vertex x="0" y="0.4" z="0"/>
   <vertex x="0" y="0" z="0.125"/><vertex x="1" y="0" z="0.125"/><vertex x="1" y="0.4" z="0.125"/><vertex x="0" y="0.4" z="0.125"/>
  </vertices><triangles>
   <triangle v1="2" v2="1" v3="0"/><triangle v1="0" v2="3" v3="2"/><triangle v1="4" v2="5" v3="6"/><triangle v1="6" v2="7" v3="4"/>
   <triangle v1="0" v2="1" v3="5"/><triangle v1="5" v2="4" v3="0"/><triangle v1="1" v2="2" v3="6"/><triangle v1="6" v2="5" v3="1"/>
   <triangle v1="2" v2="3" v3="7"/><triangle v1="7" v2="6" v3="2"/><triangle v1="3" v2="0" v3="4"/><triangle v1="4" v2="7" v3="3"/>
  </triangles></mesh></object>
  <object id="4" type="model">
   <v:levelset functionid="2" channel="red" transform="1 0 0 0 2.5 0 0 0 8 0 0 0" meshid="3"/>
  </object>
 </resources>
 <build><item objectid="4" transform="1 0 0 0 1 0 0 0 1 12 7 0"/></build>
</model>)";

std::string with(std::string text, const std::string& from, const std::string& to) {
  REQUIRE(text.find(from) != std::string::npos);
  for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size())
    text.replace(at, from.size(), to);
  return text;
}

std::vector<File> package(const std::string& of_model = model) {
  std::vector<File> files{{"_rels/.rels", rels}, {"3D/quay.model", of_model}};
  for (std::uint32_t n = 1; n <= sheets; ++n)  // the lowest comes first in the model and last by its name
    files.push_back({fmt::format("3D/volumetric/quay/{}.png", std::string(1, static_cast<char>('f' - n))),
                     png_text(encode(framed_mask(size, n), size))});
  files.push_back({"Metadata/thumbnail.png", png_text(encode(some_mask({8, 8}, 1), {8, 8}))});
  return files;
}

Result<Archive> open(const std::vector<File>& files, std::vector<SettingValue> set = {{"exposure.normal_s", "2.5"}}) {
  static int count = 0;
  static const TempFolder temp;
  const fs::path path = temp.path / fmt::format("{}.3mf", ++count);
  write_zip(path, files, true);
  OpenOptions options;
  options.set = std::move(set);
  return Archive::open(path, options);
}

Archive sound(const std::vector<File>& files, std::vector<SettingValue> set = {{"exposure.normal_s", "2.5"}}) {
  auto archive = open(files, std::move(set));
  INFO((archive ? "" : to_paragraph(archive.error())));
  REQUIRE(archive);
  return std::move(*archive);
}

void expect_stack(const Archive& archive) {
  const JobSettings& job = archive.settings();
  CHECK(job.title == "gallery deck");
  CHECK(job.size == size);
  CHECK(job.layer_count == sheets);
  CHECK(job.pitch.x_mm == 0.05);
  CHECK(job.pitch.y_mm == 0.04);
  CHECK(job.height_mm == 0.025);
  for (std::uint32_t n = 1; n <= sheets; ++n)
    CHECK(same(archive.read_layer(n).value(), encode(framed_mask(size, n), size)));
}

void expect_error(const std::vector<File>& files, ErrorKind kind, const std::string& part) {
  const auto archive = open(files);
  REQUIRE(!archive);
  INFO(to_paragraph(archive.error()));
  CHECK(to_string(archive.error().kind) == to_string(kind));
  CHECK(to_paragraph(archive.error()).find(part) != std::string::npos);
  CHECK(!archive.error().file.empty());
}

}  // namespace

TEST_CASE("an image stack is the same job as its sheets in a layer archive") {
  const TempFolder temp;
  JobSettings job = small_settings(sheets, size);
  job.pitch = {0.05, 0.04};
  job.height_mm = 0.025;
  job.base_s.reset();
  job.assumed = {"no base layers"};
  std::vector<File> files{{"manifest.json", write_manifest(job)}};
  for (std::uint32_t n = 1; n <= sheets; ++n)
    files.push_back({fmt::format("layers/{:05}.png", n), png_text(encode(framed_mask(size, n), size))});
  write_zip(temp.path / "own.zip", files);
  const Archive own = Archive::open(temp.path / "own.zip").value();
  const Archive stack = sound(package());
  expect_stack(stack);
  JobSettings settings = stack.settings();
  CHECK(settings.files == "3D/volumetric/quay/*.png");
  settings.files = own.settings().files;
  CHECK(settings == own.settings());
}

TEST_CASE("the unit of the model, its prefixes and the build's scale are followed") {
  SECTION("micron") {
    std::string text = with(model, "millimeter", "micron");
    text = with(text, "\"0.125\"", "\"125\"");
    text = with(text, "\"0.4\"", "\"400\"");
    text = with(text, "x=\"1\"", "x=\"1000\"");
    expect_stack(sound(package(with(text, "1 0 0 0 2.5 0 0 0 8 0 0 0", "0.001 0 0 0 0.0025 0 0 0 0.008 0 0 0"))));
  }
  SECTION("inch is 25.4 mm, foot 304.8 mm, centimeter and meter by tens") {
    const auto scaled = [](const char* unit, const char* scale) {
      const std::string text =
          with(model, "1 0 0 0 1 0 0 0 1 12 7 0", fmt::format("{0} 0 0 0 {0} 0 0 0 {0} 0 0 0", scale));
      const Archive archive = sound(package(with(text, "millimeter", unit)));
      return archive.settings().height_mm;
    };
    CHECK(scaled("inch", "0.1") == Approx(0.00254 * 25));  // 0.025 x 0.1 in
    CHECK(scaled("foot", "0.01") == Approx(0.0762));
    CHECK(scaled("centimeter", "0.1") == Approx(0.025));
    CHECK(scaled("meter", "0.001") == Approx(0.025));
  }
  SECTION("without a unit it is millimeter") {
    expect_stack(sound(package(with(model, " unit=\"millimeter\"", ""))));
  }
  SECTION("core under a prefix, volumetric by default") {
    std::string text = model;
    for (const char* name : {"model", "metadata", "resources", "object", "mesh", "vertices", "vertex", "triangles",
                             "triangle", "build", "item"})
      for (const char* end : {" ", ">"}) {
        for (const char* begin : {"<", "</"}) {
          const std::string from = std::string(begin) + name + end;
          if (text.find(from) != std::string::npos) text = with(text, from, std::string(begin) + "c:" + name + end);
        }
      }
    text = with(with(text, "<v:", "<"), "</v:", "</");
    text = with(with(text, "xmlns:v=", "xmlns:w="), "xmlns=", "xmlns:c=");
    text = with(text, "requiredextensions=\"v\"", "requiredextensions=\"w\"");
    for (const char* name : {"image3d ", "functionfromimage3d ", "levelset "})
      text = with(text, std::string("<") + name,
                  fmt::format("<{}xmlns=\"http://schemas.3mf.io/3dmanufacturing/volumetric/2022/01\" ", name));
    expect_stack(sound(package(text)));
  }
  SECTION("scaled by the build") {
    const Archive archive = sound(package(with(model, "1 0 0 0 1 0 0 0 1 12 7 0", "2 0 0 0 3 0 0 0 4 0 0 0")));
    CHECK(archive.settings().pitch.x_mm == Approx(0.1));
    CHECK(archive.settings().pitch.y_mm == Approx(0.12));
    CHECK(archive.settings().height_mm == Approx(0.1));
  }
  SECTION("a box that stands elsewhere, its mesh in smaller triangles or by its bounds only") {
    const std::string moved = with(with(model, "x=\"0\"", "x=\"-1\""), "x=\"1\"", "x=\"0\"");
    expect_stack(sound(package(with(moved, "0 0 8 0 0 0", "0 0 8 1 0 0"))));
    const std::string fewer = with(model, "<triangle v1=\"4\" v2=\"7\" v3=\"3\"/>", "");
    expect_stack(sound(package(with(fewer, "meshid=\"3\"", "meshid=\"3\" meshbboxonly=\"true\""))));
  }
  SECTION("part names in other letters and with %20") {
    std::vector<File> files = package(with(model, "quay/a.png", "QUAY/a%201.png"));
    for (File& file : files)
      if (file.name == "3D/volumetric/quay/a.png") file.name = "3D/volumetric/quay/a 1.png";
    expect_stack(sound(files));
  }
  SECTION("as a folder") {
    const TempFolder temp;
    write_folder(temp.path / "quay", package());
    OpenOptions options;
    options.set = {{"exposure.normal_s", "2.5"}};
    expect_stack(Archive::open(temp.path / "quay", options).value());
  }
}

TEST_CASE("which grey is inside follows from offset and scale") {
  // Value 1 gives 1 - 0.5 > 0, so that black is inside.
  const Archive black = sound(package(with(model, R"(valueoffset="0.5" valuescale="-1")", R"(valueoffset="-0.5")")));
  CHECK(same(black.read_layer(1).value(), inverted(encode(framed_mask(size, 1), size))));
  // By the defaults, 0 and 1, no grey is below 0: white is taken, and that is said.
  const Archive neither = sound(package(with(model, R"(valueoffset="0.5" valuescale="-1")", "")));
  expect_stack(neither);
  REQUIRE(neither.settings().remarks.size() == 1);
  CHECK(neither.settings().remarks.front().find("white is taken as solid") != std::string::npos);
}

TEST_CASE("options and descriptions say what an image stack lacks, or other things of it") {
  const auto lacking = open(package(), {});
  REQUIRE(!lacking);
  CHECK(lacking.error().kind == ErrorKind::usage);
  CHECK(lacking.error().command.find("--exposure 2.5") != std::string::npos);
  CHECK(lacking.error().command.find("--pitch") == std::string::npos);
  CHECK(sound(package(), {{"exposure.normal_s", "2.5"}, {"layers.height_mm", "0.03"}}).settings().height_mm == 0.03);

  const TempFolder temp;
  auto files = package();
  files.push_back({"Metadata/job.ini", "light = 2300\nbottom = 4\n"});
  write_zip(temp.path / "quay.3mf", files);
  OpenOptions options;
  options.description = parse_description(R"({"format": "archive-description", "version": 1, "label": "quay",
   "masks": {"files": "3D/volumetric/quay/*.png"}, "settings": {
   "exposure.normal_s": {"entry": "Metadata/job.ini", "syntax": "ini", "key": "light", "factor": 0.001},
   "exposure.base_layers": {"entry": "Metadata/job.ini", "syntax": "ini", "key": "bottom"}}})",
                                          "quay.json")
                            .value();
  const Archive described = Archive::open(temp.path / "quay.3mf", options).value();
  expect_stack(described);
  CHECK(described.settings().normal_s == 2.3);
  CHECK(described.settings().base_layers == 4);
}

TEST_CASE("what is not supported of a 3MF package is named") {
  const auto refused = [](const std::string& from, const std::string& to, const std::string& part,
                          ErrorKind kind = ErrorKind::version) {
    INFO(from << " -> " << to);
    expect_error(package(with(model, from, to)), kind, part);
  };
  const std::string image =
      R"(<v:functionfromimage3d id="2" image3did="1" valueoffset="0.5" valuescale="-1" filter="nearest"/>)";
  refused("1 0 0 0 2.5 0 0 0 8 0 0 0", "0 2.5 0 1 0 0 0 0 8 0 0 0", "turns or shears");
  refused("1 0 0 0 2.5 0 0 0 8 0 0 0", "1 0.1 0 0 2.5 0 0 0 8 0 0 0", "turns or shears");
  refused("1 0 0 0 2.5 0 0 0 8 0 0 0", "1 0 0 0 -2.5 0 0 0 8 0 1 0", "mirrors");
  refused("1 0 0 0 1 0 0 0 1 12 7 0", "0 1 0 -1 0 0 0 0 1 12 7 0", "turns or shears");
  refused("1 0 0 0 2.5 0 0 0 8 0 0 0", "1 0 0 0 0 0 0 0 8 0 0 0", "flattens", ErrorKind::invalid);
  refused("1 0 0 0 2.5 0 0 0 8 0 0 0", "1 0 0 0 2.5 0 0 0 8", "12 numbers", ErrorKind::invalid);
  refused("1 0 0 0 2.5 0 0 0 8 0 0 0", "1 0 0 none 0 2.5 0 0 0 8 0 0 0", "12 numbers", ErrorKind::invalid);
  refused(image, R"(<i:implicitfunction id="2" xmlns:i="http://schemas.3mf.io/3dmanufacturing/implicit/2023/12"/>)",
          "implicitfunction");
  refused("requiredextensions=\"v\"",
          "requiredextensions=\"v i\" xmlns:i=\"http://schemas.3mf.io/3dmanufacturing/implicit/2023/12\"",
          "implicit/2023/12");
  refused("</v:image3d>", "</v:image3d><v:image3d id=\"9\"><v:imagestack/></v:image3d>", "2 image stacks");
  refused("<item ", "<item objectid=\"3\"/><item ", "builds 2 objects");
  refused("<item objectid=\"4\"", "<item objectid=\"3\"", "<mesh>");
  refused("channel=\"red\"", "channel=\"alpha\"", "alpha");
  refused("<vertex x=\"0\" y=\"0.4\" z=\"0.125\"/>", "<vertex x=\"0.5\" y=\"0.4\" z=\"0.125\"/>", "no upright box");
  refused("x=\"1\"", "x=\"2\"", "from U = 0 to 2", ErrorKind::mismatch);
  refused("z=\"0.125\"", "z=\"0.1\"", "from W = 0 to 0.8", ErrorKind::mismatch);
  refused("valuescale=", "scale=", "\"scale\"", ErrorKind::invalid);
  refused("millimeter", "furlong", "furlong", ErrorKind::invalid);
  expect_error({{"_rels/.rels", rels}, {"3D/quay.model", with(model, "v:image3d", "v:image4d")}}, ErrorKind::version,
               "no image stack");
}

TEST_CASE("sheets that are no masks are refused") {
  auto colour = package(), distance = package(), alpha = package();
  for (std::size_t i = 2; i < 2 + sheets; ++i) {
    Pixels ramp(200);
    std::vector<int> samples(600);
    for (int k = 0; k < 200; ++k) ramp[static_cast<std::size_t>(k)] = static_cast<std::uint8_t>(20 + k);
    for (int k = 0; k < 600; ++k) samples[static_cast<std::size_t>(k)] = k % 200;
    distance[i].content = png_text(encode(ramp, size));
    colour[i].content = png_of(samples, size, {8, rgb});
    alpha[i].content = png_of_grey(framed_mask(size, 1), size, {8, grey_alpha});
  }
  expect_error(colour, ErrorKind::version, "in colour");
  expect_error(distance, ErrorKind::version, "as distances are");
  expect_error(alpha, ErrorKind::version, "alpha");
}

TEST_CASE("a broken 3MF package says what is wrong") {
  const auto refused = [](const std::string& from, const std::string& to, ErrorKind kind, const std::string& part) {
    INFO(from << " -> " << to);
    expect_error(package(with(model, from, to)), kind, part);
  };
  refused("</resources>", "", ErrorKind::broken, "is not XML");
  refused("<model ", "<!DOCTYPE m [<!ENTITY a \"aaaaaaaa\"><!ENTITY b \"&a;&a;&a;&a;\">]><model ", ErrorKind::broken,
          "document type");
  refused("quay/c.png", "quay/../../../c.png", ErrorKind::invalid, "..");
  refused("quay/c.png", "quay/%2e%2e/%2E%2E/%2e%2e/c.png", ErrorKind::invalid, "%2e");
  refused("quay/c.png", "quay/z.png", ErrorKind::not_found, "layer 3");
  refused("sheetcount=\"5\"", "sheetcount=\"6\"", ErrorKind::mismatch, "5 sheets");
  refused("sheetcount=\"5\"", "sheetcount=\"600000\"", ErrorKind::limit, "600000");
  refused("rowcount=\"10\"", "rowcount=\"0\"", ErrorKind::invalid, "rowcount");
  refused("rowcount=\"10\"", "", ErrorKind::invalid, "rowcount");
  refused("functionid=\"2\"", "functionid=\"7\"", ErrorKind::not_found, "\"7\"");
  refused("meshid=\"3\"", "meshid=\"7\"", ErrorKind::not_found, "\"7\"");
  refused("image3did=\"1\"", "image3did=\"7\"", ErrorKind::not_found, "\"7\"");
  refused("objectid=\"4\"", "objectid=\"7\"", ErrorKind::not_found, "\"7\"");
  refused("y=\"0.4\" z=\"0\"", "y=\"high\" z=\"0\"", ErrorKind::invalid, "high");
  auto small = package();
  small[4].content = png_text(encode(framed_mask({20, 9}, 1), {20, 9}));
  expect_error(small, ErrorKind::mismatch, "layer 3");
  auto no_png = package();
  no_png[5].content = "no picture, but as long as one has to be";
  expect_error(no_png, ErrorKind::broken, "layer 4");
  auto no_model = package();
  no_model[1].name = "3D/other.model";
  expect_error(no_model, ErrorKind::not_found, "quay.model");
  auto bad_rels = package();
  bad_rels[0].content = "<Relationships";
  expect_error(bad_rels, ErrorKind::broken, "_rels/.rels");
  std::string deep;
  for (int i = 0; i < 200; ++i) deep += "<a>";
  for (int i = 0; i < 200; ++i) deep += "</a>";
  refused("<resources>", deep + "<resources>", ErrorKind::broken, "nested too deep");
  auto huge = package(model + std::string(17 << 20, ' '));
  expect_error(huge, ErrorKind::limit, "quay.model");
}

TEST_CASE("names given for the masks go before an image stack") {
  auto files = package(with(model, "channel=\"red\"", "channel=\"alpha\""));
  for (std::uint32_t n = 1; n <= sheets; ++n)
    files.push_back({fmt::format("plain/{}.png", n), png_text(encode(framed_mask(size, n), size))});
  const Archive plain = sound(files, {{"masks.files", "plain/*.png"},
                                      {"image.pitch_x_mm", "0.05"},
                                      {"image.pitch_y_mm", "0.05"},
                                      {"layers.height_mm", "0.05"},
                                      {"exposure.normal_s", "2.5"}});
  CHECK(plain.settings().layer_count == sheets);
  CHECK(same(plain.read_layer(2).value(), encode(framed_mask(size, 2), size)));
}
