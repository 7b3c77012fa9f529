// Archives of other programs on the command line: the same report as in our own format, what is asked for, and pack.
#include "hairline/foreign.hpp"

#include <zip.h>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <set>

#include "jobs.hpp"

using namespace hairline;
using namespace hairline::test;
namespace fs = std::filesystem;

namespace {

struct File {
  std::string name, text;
};

void write_zip_of(const fs::path& path, const std::vector<File>& files) {
  zip_t* zip = zip_open(path.c_str(), ZIP_CREATE | ZIP_TRUNCATE, nullptr);
  REQUIRE(zip != nullptr);
  for (const File& file : files)
    REQUIRE(zip_file_add(zip, file.name.c_str(), zip_source_buffer(zip, file.text.data(), file.text.size(), 0), 0) >=
            0);
  REQUIRE(zip_close(zip) == 0);
}

std::vector<File> masks(const std::string& folder) {
  std::vector<File> files;
  for (std::uint32_t n = 1; n <= job_layers; ++n)
    files.push_back({fmt::format("{}{}.png", folder, n), png(mask(true, n > 3))});
  return files;
}

/// own.zip as another program writes it, ours/ with the same said in a manifest, and a record.
void write_both(const Folder& folder, const std::string& exposure = R"({"normal_s": 2.5})",
                const std::vector<File>& more = {}) {
  std::vector<File> files = masks("out/");
  files.insert(files.end(), more.begin(), more.end());
  write_zip_of(folder / "own.zip", files);
  write_file(folder / "ours/manifest.json",
             R"({"format": "layer-archive", "version": 1,
 "image": {"width_px": 48, "height_px": 40, "pitch_x_mm": 0.05, "pitch_y_mm": 0.05},
 "layers": {"height_mm": 0.05}, "exposure": )" +
                 exposure + "}");
  for (std::uint32_t n = 1; n <= job_layers; ++n) write_file(folder / "ours" / layer_name(n), png(mask(true, n > 3)));
  write_file(folder / "record.json", record_text());
}

using Words = std::vector<std::string>;

Words operator+(Words a, const Words& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

Ran program(const Words& words, const fs::path& folder, const Words& environment = {}) {
  return hairline::test::hairline(words, folder, environment);
}

/// The report without the name of the file.
std::string report_of(const Folder& folder, const std::string& job, const Words& more = {},
                      const Words& environment = {}) {
  const Words words = {"check", job, "--record", "record.json", "--today", "2026-11-07", "--json", "-"};
  const Ran ran = program(words + more, folder.path(), environment);
  INFO(ran.err);
  REQUIRE(ran.status != 2);
  auto report = nlohmann::ordered_json::parse(ran.out);
  REQUIRE(report["job"]["file"] == job);
  report["job"]["file"] = "";
  return report.dump();
}

/// The line that is to be typed, taken apart by a shell.
Ran typed(const Folder& folder, const std::string& err) {
  const std::string lead = " Type: hairline ";
  const std::size_t begin = err.find(lead);
  REQUIRE(begin != std::string::npos);
  const std::string line = err.substr(begin + lead.size() - 1, err.find('\n', begin) - begin - lead.size() + 1);
  return run({"/bin/sh", "-c", std::string(HAIRLINE_BINARY) + line}, folder.path());
}

const Words four = {"--pitch", "0.05", "--height", "0.05", "--exposure", "2.5"};
const Words no_descriptions = {"XDG_CONFIG_HOME=/nowhere"};

const std::string description = R"({"format": "archive-description", "version": 1, "label": "quay bench",
 "masks": {"files": "out/*.png", "invert": false}, "settings": {
  "image.pitch_x_mm": {"constant": 0.05}, "image.pitch_y_mm": {"constant": 0.05},
  "layers.height_mm": {"entry": "job.ini", "syntax": "ini", "key": "height_um", "factor": 0.001},
  "exposure.normal_s": {"entry": "job.ini", "syntax": "ini", "key": "light.time_ms", "factor": 0.001}}})";
const File job_ini{"job.ini", "height_um = 50\n[light]\ntime_ms = 2500 ; as the resin wants it\n"};

}  // namespace

TEST_CASE("a zip of masks with four options gives the report of the same layer archive") {
  const Folder folder;
  write_both(folder);
  const std::string ours = report_of(folder, "ours");
  CHECK(report_of(folder, "own.zip", four) == ours);
  CHECK(report_of(folder, "own.zip",
                  {"--set", "image.pitch_x_mm=0.05", "--set", "image.pitch_y_mm=0.05", "--set", "layers.height_mm=0.05",
                   "--set", "exposure.normal_s=2.5"}) == ours);
  CHECK(report_of(folder, "own.zip", {"--pitch", "50 um", "--height", "0,05mm", "--exposure", "2500 ms"}) == ours);
  CHECK(report_of(folder, "own.zip",
                  {"--pitch", "0,05", "--set", "layers.height_mm=50 um", "--set", "exposure.normal_s=2,5 s"}) == ours);
  CHECK(report_of(folder, "own.zip", Words{"--set", "masks.invert=false"} + four + Words{"--set", "title="}) == ours);
  CHECK(has(ours, R"("stated":false)"));
  fs::create_directory(folder / "bare");
  for (const File& file : masks("")) write_file(folder / "bare" / file.name, file.text);
  CHECK(report_of(folder, "bare", four) == ours);
}

TEST_CASE("an archive that does not state its base is said to, and gets no finding about it") {
  const Folder folder;
  write_both(folder);
  std::istringstream words(check(folder, "own.zip", four).out);
  std::string text;
  for (std::string word; words >> word;) text += word + " ";  // lines break anywhere
  CHECK(has(text, "The job does not state its base."));
  CHECK(!has(text, "There are no base layers"));
  CHECK(!has(text, "may not stick"));
  CHECK(!has(text, "no base layer:"));
  const Folder based;
  write_both(based, R"({"normal_s": 2.5, "base_s": 25, "base_layers": 2})");
  CHECK(report_of(based, "own.zip", four + Words{"--base", "25", "--base-layers", "2"}) == report_of(based, "ours"));
}

TEST_CASE("layers without anything solid are named first, but not those above the print") {
  const Folder folder;
  write_file(folder / "record.json", record_text());
  const auto answer = [&](const char* job, const std::set<std::uint32_t>& black) {
    write_job(folder / job);
    for (const std::uint32_t n : black) write_file(folder / job / layer_name(n), png(mask(false)));
    return hairline::test::hairline({"check", job, "--record", "record.json"}, folder.path()).out;
  };
  CHECK(has(answer("whole", {}), "CLEAR"));
  CHECK(has(answer("top", {5, 6}), "CLEAR"));
  const std::string hole = answer("hole", {4});
  CHECK(has(hole, "why      Layer 4 is empty, with the print going on above"));
  CHECK(hole.find("Layer 4 is empty") < hole.find("#1"));
  CHECK(has(answer("foot", {1, 2}), "Layers 1 and 2 are empty"));
}

TEST_CASE("with one option missing the command to type is shown, and works") {
  for (std::size_t left_out = 0; left_out < four.size(); left_out += 2) {
    INFO("without " << four[left_out]);
    const Folder folder;
    write_both(folder);
    Words given = four;
    given.erase(given.begin() + static_cast<std::ptrdiff_t>(left_out),
                given.begin() + static_cast<std::ptrdiff_t>(left_out) + 2);
    const Ran ran = check(folder, "own.zip", given);
    CHECK(ran.status == 2);
    CHECK(ran.out.empty());
    CHECK(has(ran.err, four[left_out] + " " + four[left_out + 1]));
    CHECK(typed(folder, ran.err).out == check(folder, "own.zip", four).out);
  }
  const Folder folder;
  write_both(folder);
  const Ran packed = program({"pack", "own.zip", "new one.zip"}, folder.path());
  CHECK(packed.status == 2);
  CHECK(typed(folder, packed.err).status == 0);
  CHECK(report_of(folder, "new one.zip") == report_of(folder, "ours"));
}

TEST_CASE("descriptions: named, in a folder, in the environment, in the person's own folder") {
  const Folder folder;
  write_both(folder, R"({"normal_s": 2.5})", {job_ini});
  const std::string ours = report_of(folder, "ours");
  write_file(folder / "quay.json", description);
  CHECK(report_of(folder, "own.zip", {"--description", "quay.json"}) == ours);
  CHECK(has(check(folder, "own.zip", {"--description", "quay.json"}).out, "\"quay bench\" (quay.json)"));
  CHECK(report_of(folder, "own.zip", {"--description", "quay.json", "--exposure", "2.5", "--height", "0.05"}) == ours);

  write_file(folder / "known/quay.json", description);
  write_file(folder / "known/other.json", [] {
    std::string text = description;
    text.replace(text.find("out/*"), 5, "img/*");
    return text;
  }());
  CHECK(report_of(folder, "own.zip", {"--descriptions", "known"}) == ours);
  CHECK(report_of(folder, "own.zip", {}, {"HAIRLINE_DESCRIPTIONS=known"}) == ours);
  write_file(folder / "config/hairline/descriptions/quay.json", description);
  const std::string config = "XDG_CONFIG_HOME=" + (folder / "config").string();
  CHECK(report_of(folder, "own.zip", {}, {config}) == ours);
  CHECK(report_of(folder, "ours", {}, {config}) == ours);

  SECTION("none fits") {
    fs::remove(folder / "known/quay.json");
    const Ran ran = check(folder, "own.zip", {"--descriptions", "known"});
    CHECK(ran.status == 2);
    CHECK(has(ran.err, "nothing says the pixel pitch"));
  }
  SECTION("no such folder") {
    for (const Ran& ran :
         {check(folder, "own.zip", {"--descriptions", "knwon"}), check(folder, "ours", {"--descriptions", "knwon"})}) {
      CHECK(ran.status == 2);
      CHECK(has(ran.err, "knwon: there is no such folder"));
    }
  }
  SECTION("the user's own folder is no folder") {
    write_file(folder / "other/hairline/descriptions", "");
    CHECK(report_of(folder, "ours", {}, {"XDG_CONFIG_HOME=" + (folder / "other").string()}) == ours);
  }
  SECTION("several fit") {
    write_file(folder / "known/twin.json", description);
    const Ran ran = check(folder, "own.zip", {"--descriptions", "known"});
    CHECK(ran.status == 2);
    CHECK(has(ran.err, "quay.json"));
    CHECK(has(ran.err, "twin.json"));
    CHECK(has(ran.err, "--description FILE"));
  }
  SECTION("a broken one") {
    write_file(folder / "known/cut.json", "{\"format\": ");
    const Ran ran = check(folder, "own.zip", {"--descriptions", "known"});
    CHECK(ran.status == 2);
    CHECK(has(ran.err, "cut.json"));
  }
}

TEST_CASE("a wrong --set names what there is") {
  const Folder folder;
  write_both(folder);
  const Ran no_path = check(folder, "own.zip", four + Words{"--set", "layers.hight_mm=0.05"});
  CHECK(no_path.status == 2);
  CHECK(has(no_path.err, "layers.height_mm"));
  CHECK(check(folder, "own.zip", four + Words{"--set", "layers.height_mm"}).status == 2);
  const Ran no_number = check(folder, "own.zip", four + Words{"--set", "layers.height_mm=thin"});
  CHECK(no_number.status == 2);
  CHECK(has(no_number.err, "thin"));
  const Ran no_length = check(folder, "own.zip", four + Words{"--set", "layers.height_mm=2 s"});
  CHECK(no_length.status == 2);
  CHECK(has(no_length.err, "\"2 s\" (in s, not mm)"));
}

TEST_CASE("pack writes any job as a layer archive with the same report") {
  const Folder folder;
  write_both(folder, R"({"normal_s": 2.5})", {job_ini});
  const std::string ours = report_of(folder, "ours");
  const Ran packed = program(Words{"pack", "own.zip", "packed.zip"} + four, folder.path(), no_descriptions);
  INFO(packed.err);
  CHECK(packed.status == 0);
  CHECK(packed.out == "packed.zip\n");
  CHECK(report_of(folder, "packed.zip") == ours);

  write_file(folder / "quay.json", description);
  write_file(folder / "packed.zip", "what was there");
  CHECK(program({"pack", "own.zip", "packed.zip", "--description", "quay.json"}, folder.path()).status == 0);
  CHECK(report_of(folder, "packed.zip") == ours);
  CHECK(program({"pack", "packed.zip", "again.zip"}, folder.path()).status == 0);
  CHECK(file_text(folder / "again.zip") == file_text(folder / "packed.zip"));

  write_job(folder / "full", true, [] {
    std::string text = manifest();
    text.insert(text.rfind('}'), R"(, "exceptions": [{"from_layer": 3, "to_layer": 3, "height_mm": 0.03},
      {"from_layer": 5, "to_layer": 6, "exposure_s": 2.7}])");
    text.replace(text.find("\"base_layers\": 2"), 16, "\"base_layers\": 1, \"transition_layers\": 2");
    return text;
  }());
  CHECK(program({"pack", "full", "full.zip"}, folder.path()).status == 0);
  CHECK(report_of(folder, "full.zip") == report_of(folder, "full"));
}

TEST_CASE("demo jobs packed give the same report, byte for byte") {
  const Folder folder;
  REQUIRE(program({"demo", "harbour", "--small"}, folder.path()).status == 0);
  fs::rename(folder / "harbour/harbour-grey.json", folder / "record.json");
  int jobs = 0;
  for (const auto& entry : fs::directory_iterator(folder / "harbour")) {
    if (entry.path().extension() != ".zip") continue;
    ++jobs;
    const std::string job = "harbour/" + entry.path().filename().string();
    CHECK(program({"pack", job, "packed.zip"}, folder.path()).status == 0);
    CHECK(report_of(folder, "packed.zip") == report_of(folder, job));
    CHECK(file_text(folder / "packed.zip") == file_text(folder / job));
  }
  CHECK(jobs > 0);
}

TEST_CASE("pack does not write over or into its input, and leaves nothing behind where it fails") {
  const Folder folder;
  write_zip(folder / "job.zip");
  write_job(folder / "open");
  fs::create_hard_link(folder / "job.zip", folder / "hard.zip");
  fs::create_symlink("job.zip", folder / "soft.zip");
  const std::string before = file_text(folder / "job.zip");
  const auto files = folder.files();
  for (const Words& words : {Words{"job.zip", "job.zip"},
                             {"job.zip", "./open/../job.zip"},
                             {"job.zip", "hard.zip"},
                             {"job.zip", "soft.zip"},
                             {"soft.zip", "job.zip"},
                             {"open", "open/new.zip"}}) {
    INFO(words[0] << " " << words[1]);
    const Ran ran = program(Words{"pack"} + words, folder.path());
    CHECK(ran.status == 2);
    CHECK(has(ran.err, "over or into an input"));
  }
  write_file(folder / "open" / layer_name(4), "no picture");
  const Ran broken = program({"pack", "open", "new.zip"}, folder.path());
  CHECK(broken.status == 2);
  CHECK(has(broken.err, "layer 4"));
  CHECK(program({"pack", "job.zip", "nowhere/new.zip"}, folder.path()).status == 2);
  CHECK(program({"pack", "job.zip", "open"}, folder.path()).status == 2);
  CHECK(file_text(folder / "job.zip") == before);
  CHECK(folder.files() == files);
}

TEST_CASE("a 3MF image stack gives the report of the same layer archive") {
  const Folder folder;
  write_both(folder);
  // 48 x 40 pixels of 0.05 mm and 6 sheets of 0.05 mm, in micrometres: a box of 2400 x 2000 x 300.
  std::string sheets, corners;
  for (std::uint32_t n = 1; n <= job_layers; ++n) sheets += fmt::format("<v:imagesheet path=\"/out/{}.png\"/>", n);
  for (const int corner : {0, 1, 2, 3, 4, 5, 6, 7})
    corners += fmt::format("<vertex x=\"{}\" y=\"{}\" z=\"{}\"/>", (corner & 1) * 2400, (corner / 2 & 1) * 2000,
                           corner / 4 * 300);
  std::vector<File> files = masks("out/");
  files.push_back({"_rels/.rels",
                   R"(<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
 <Relationship Target="/3D/a.model" Id="r" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>)"});
  files.push_back({"3D/a.model", fmt::format(R"(<model unit="micron" requiredextensions="v"
 xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
 xmlns:v="http://schemas.3mf.io/3dmanufacturing/volumetric/2022/01"><resources>
 <v:image3d id="1"><v:imagestack rowcount="40" columncount="48" sheetcount="6">{}</v:imagestack></v:image3d>
 <v:functionfromimage3d id="2" image3did="1" valueoffset="0.5" valuescale="-1"/>
 <object id="3"><mesh><vertices>{}</vertices><triangles/></mesh></object>
 <object id="4"><v:levelset functionid="2" channel="green" meshid="3" meshbboxonly="true"
  transform="{} 0 0 0 {} 0 0 0 {} 0 0 0"/></object></resources><build><item objectid="4"/></build></model>)",
                                             sheets, corners, 1 / 2400.0, 1 / 2000.0, 1 / 300.0)});
  write_zip_of(folder / "stack.3mf", files);
  CHECK(report_of(folder, "stack.3mf", {"--exposure", "2.5"}) == report_of(folder, "ours"));
  CHECK(program({"pack", "stack.3mf", "packed.zip", "--exposure", "2.5"}, folder.path()).status == 0);
  const std::string draft = program({"describe", "stack.3mf"}, folder.path()).out;  // only what the model does not say
  CHECK(draft.find("exposure.normal_s") != std::string::npos);
  CHECK(draft.find("image.pitch") == std::string::npos);
  CHECK(draft.find("layers.height") == std::string::npos);
  CHECK(report_of(folder, "packed.zip") == report_of(folder, "ours"));
}
