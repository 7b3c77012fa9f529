// `describe` in a fresh folder: the draft, its trial, what is kept, and that the archive is read by it from then on.
#include <algorithm>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "jobs.hpp"
#include "support/process.hpp"

using namespace hairline;
using namespace hairline::test;
namespace fs = std::filesystem;

namespace {

// All that the manifest of jobs.hpp says.
const std::string whole =
    "title = mooring post\n[light]\nnormal_ms = 2500\nbase_ms = 25000\nbase_layers = 2\nrest before = 0 s\n"
    "rest after = 500 ms\n[layer]\nheight_um = 50\n[pixel]\npitch_um = 50\n[lift]\nheight = 6 mm\nspeed = 1 mm/s\n"
    "[retract]\nspeed = 2.5 mm/s\n[resin]\nname = harbour grey\ndensity = 1.1 g/ml\n[machine]\nname = bench two\n";

void write_own(const fs::path& folder, const std::string& ini) {
  if (!ini.empty()) write_file(folder / "job.ini", ini);
  for (std::uint32_t n = 1; n <= job_layers; ++n)
    write_file(folder / ("out/s" + std::to_string(n) + ".png"), png(mask(true)));
}

/// Answers typed at a terminal; what was shown there is in `out`.
Ran at_terminal(const Folder& folder, const std::string& arguments, const std::string& answers) {
  write_file(folder / "answers", answers);
  const std::string command = std::string("'" HAIRLINE_BINARY "' ") + arguments;
  return run({"/bin/sh", "-c", "script -qec \"" + command + "\" /dev/null < answers"}, folder.path());
}

}  // namespace

TEST_CASE("a draft shows each setting, where it is from and how sure it is, and is tried at once") {
  const Folder folder;
  write_own(folder / "own", whole);
  const Ran ran = test::hairline({"describe", "own"}, folder.path());
  INFO(ran.out << ran.err);
  CHECK(ran.status == 0);
  CHECK(ran.err.empty());
  for (const char* part : {"6 masks \"out/s*.png\" of 48 x 40 pixels", "exposure.normal_s          2.5 s          sure",
                           "job.ini light.normal_ms", "6 layers of 0.05 mm: 0.30 mm tall", "2.40 x 2.00 mm",
                           "25 s on 2 base layers", "its kind:\n", "hairline describe own --out", "hairline check own"}) {
    INFO(part);
    CHECK(has(ran.out, part));
  }
  std::istringstream lines(ran.out);
  for (std::string line; std::getline(lines, line);)
    if (line.rfind("    hairline", 0) != 0) CHECK(line.size() <= 80);
}

TEST_CASE("a description kept in the config folder reads the archive from then on") {
  const Folder folder;
  write_own(folder / "own", whole);
  const std::vector<std::string> home = {"XDG_CONFIG_HOME=" + (folder / "config").string()};
  const std::string kept = (folder / "config/hairline/descriptions/own.json").string();
  const Ran before = test::hairline({"measure", "own"}, folder.path(), home);
  CHECK(before.status == 2);
  const Ran drafted = test::hairline({"describe", "own", "--out", kept, "--label", "quay bench"}, folder.path(), home);
  INFO(drafted.err);
  REQUIRE(drafted.status == 0);
  CHECK(has(drafted.out, "hairline check own --record RECORD"));
  const Ran after = test::hairline({"measure", "own", "--json", "-"}, folder.path(), home);
  INFO(after.err);
  REQUIRE(after.status == 0);
  write_job(folder / "ours");
  const Ran ours = test::hairline({"measure", "ours", "--json", "-"}, folder.path(), home);
  auto a = nlohmann::json::parse(after.out), b = nlohmann::json::parse(ours.out);
  for (auto* report : {&a, &b}) {  // what the archive is called, and by what it was read
    REQUIRE(report->contains("job"));
    for (const char* key : {"file", "remarks"}) report->at("job").erase(key);
  }
  CHECK(a == b);
  CHECK(has(test::hairline({"measure", "own"}, folder.path(), home).out, "quay bench"));
}

TEST_CASE("with --out - nothing but the description goes to stdout") {
  const Folder folder;
  write_own(folder / "own", whole);
  const Ran ran = test::hairline({"describe", "own", "--out", "-"}, folder.path());
  REQUIRE(ran.status == 0);
  CHECK(ran.err.empty());
  const auto json = nlohmann::json::parse(ran.out);
  CHECK(json.at("format") == "archive-description");
  CHECK(json.at("settings").at("layers.height_mm").at("factor") == 0.001);
}

TEST_CASE("what is missing is said, with commands that work when typed") {
  const Folder folder;
  write_own(folder / "own", "exposure_ms = 2500\n");
  const Ran ran = test::hairline({"describe", "own", "--out", "own.json"}, folder.path());
  CHECK(ran.status == 0);
  std::string flowing = ran.out;  // wherever the lines end
  std::replace(flowing.begin(), flowing.end(), '\n', ' ');
  CHECK(has(flowing, "nothing says the pixel pitch and the layer height"));
  CHECK(has(flowing, "are now checked by, with your own numbers:"));
  const std::string command = "hairline check own --description own.json --pitch 0.05 --height 0.05 --record RECORD";
  CHECK(has(ran.out, command));
  const Ran measured = test::hairline(
      {"measure", "own", "--description", "own.json", "--pitch", "0.05", "--height", "0.05"}, folder.path());
  INFO(measured.err);
  CHECK(measured.status == 0);
}

TEST_CASE("a description does not go over its archive, and an archive of our own needs none") {
  const Folder folder;
  write_own(folder / "own", whole);
  for (const char* out : {"own", "own/d.json", "none/d.json"}) {
    const Ran ran = test::hairline({"describe", "own", "--out", out}, folder.path());
    INFO(out << ran.err);
    CHECK(ran.status == 2);
    CHECK(ran.out.empty());
  }
  write_job(folder / "ours");
  const Ran ours = test::hairline({"describe", "ours"}, folder.path());
  CHECK(ours.status == 2);
  CHECK(has(ours.err, "layer archive"));
}

TEST_CASE("on a terminal it asks for what is missing, and Enter keeps a proposal") {
  const Folder folder;
  write_own(folder / "own", "exposure = 100\n");  // 100 s, or 100 ms: not sure
  const Ran ran = at_terminal(folder, "describe own --out own.json", "0.05\nthin\n0,05\n\n");
  INFO(ran.out);
  CHECK(ran.status == 0);
  CHECK(has(ran.out, "pixel pitch, mm: "));
  CHECK(has(ran.out, "\"thin\" is no answer"));
  CHECK(has(ran.out, "exposure time, s [100]: "));
  const auto settings = nlohmann::json::parse(file_text(folder / "own.json")).at("settings");
  CHECK(settings.at("image.pitch_x_mm").at("constant") == 0.05);
  CHECK(settings.at("image.pitch_y_mm").at("constant") == 0.05);
  CHECK(settings.at("layers.height_mm").at("constant") == 0.05);
  CHECK(settings.at("exposure.normal_s").at("key") == "exposure");
}

TEST_CASE("Ctrl-C at a question of describe ends at once; the answers before it are in the file that was asked for") {
  const Folder folder;
  write_own(folder / "own", "exposure = 100\n");
  Process asked({"describe", "own", "--out", "own.json"}, folder.path(), Process::On::terminal);
  REQUIRE(asked.shows("pixel pitch, mm: "));
  asked.type("0.05\n");
  REQUIRE(asked.shows("layer height, mm: "));
  asked.type("\x03");
  const Ran ran = asked.end();
  INFO(ran.out);
  CHECK(ran.status == 130);
  CHECK(has(ran.out, "What you had answered is in own.json"));
  const auto settings = nlohmann::json::parse(file_text(folder / "own.json")).at("settings");
  CHECK(settings.at("image.pitch_x_mm").at("constant") == 0.05);
}
