// The examples of README.md run as they stand, in order, its report is the real one, and reports satisfy their schema
// by a general validator.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <sstream>

#include "jobs.hpp"

using namespace hairline;
using namespace hairline::test;
namespace fs = std::filesystem;

namespace {

// Lines that begin with `hairline` inside ```sh fences.
std::vector<std::string> examples_of(const std::string& page) {
  std::vector<std::string> examples;
  std::istringstream lines(page);
  bool inside = false;
  for (std::string line; std::getline(lines, line);) {
    if (line.rfind("```", 0) == 0)
      inside = line == "```sh";
    else if (inside && line.rfind("hairline ", 0) == 0)
      examples.push_back(line);
  }
  return examples;
}

// What stands in the first fence below a heading, and the command in backticks before it.
struct Shown {
  std::string command, text;
};
Shown shown_under(const std::string& page, const std::string& heading) {
  const std::size_t at = page.find("\n## " + heading + "\n");
  if (at == std::string::npos) throw std::runtime_error("no heading " + heading);
  const std::size_t command = page.find('`', at) + 1, fence = page.find("\n```\n", at) + 5;
  return {page.substr(command, page.find('`', command) - command),
          page.substr(fence, page.find("```\n", fence) - fence)};
}

Ran shell(const std::string& command, const Folder& folder) {
  const std::string path = fs::path(HAIRLINE_BINARY).parent_path().string();
  return run({"/bin/sh", "-c", "PATH=\"" + path + ":$PATH\"; export PATH; " + command}, folder.path());
}

// Debian's python3-jsonschema belongs to the system's own interpreter.
Ran validate(const std::string& report, const Folder& folder) {
  const std::string script = R"(
import json, sys
try:
    import jsonschema
except ImportError:
    sys.exit(77)
schema = json.load(open(sys.argv[1]))
def refuse(name): raise ValueError(name + " is not JSON")
report = json.load(open(sys.argv[2]), parse_constant=refuse)
jsonschema.Draft202012Validator.check_schema(schema)
jsonschema.Draft202012Validator(schema).validate(report)
)";
  write_file(folder / "validate.py", script);
  const std::string python = fs::exists("/usr/bin/python3") ? "/usr/bin/python3" : "python3";
  return shell(python + " validate.py " HAIRLINE_SOURCE_DIR "/formats/preflight-report.schema.json " + report, folder);
}

}  // namespace

TEST_CASE("the examples of the README run") {
  const std::vector<std::string> examples = examples_of(file_text(HAIRLINE_SOURCE_DIR "/README.md"));
  REQUIRE(examples.size() >= 5);
  const Folder folder;
  // A person's own zip: masks, and a settings file of another program.
  REQUIRE(shell("hairline demo --small harbour && python3 -c \""
                "import zipfile; own = zipfile.ZipFile('own.zip', 'w'); job = zipfile.ZipFile('harbour/hull.zip');"
                "[own.writestr(n, job.read(n)) for n in job.namelist() if n.endswith('.png')];"
                "own.writestr('job.ini', 'pixel pitch = 0.05 mm\\nlayer height = 0.05 mm\\nexposure = 2500 ms\\n')\"",
                folder)
              .status == 0);
  for (const std::string& example : examples) {
    const Ran ran = shell(example, folder);
    INFO(example << "\n" << ran.err);
    // Only what judges jobs may end with 1: hold.
    bool judges = false;
    for (const char* command : {"hairline check ", "hairline measure ", "hairline sweep ", "hairline queue "})
      judges = judges || example.starts_with(command);
    CHECK(ran.status <= (judges ? 1 : 0));
    CHECK(ran.err.empty());
  }
}

TEST_CASE("the report in the README is what its command prints, to the letter") {
  const Shown shown = shown_under(file_text(HAIRLINE_SOURCE_DIR "/README.md"), "A report");
  REQUIRE(shown.command.rfind("hairline check nameplate.zip ", 0) == 0);
  const Folder folder;
  REQUIRE(shell("hairline demo --small .", folder).status == 0);
  const Ran ran = shell(shown.command, folder);
  CHECK(ran.status == 1);
  CHECK(ran.err.empty());
  CHECK(ran.out == shown.text);
}

// What the demo is for (docs/verdicts.md): one job that can be started, one that another time saves, one whose model
// has to change, and the time of each. The losses of the gallery are those its parts are drawn for: six pickets, three
// glazing bars and two shrouds of a pixel, portholes of 2 to 5 pixels.
TEST_CASE("the demo's jobs: one clear, one saved by another time, one that no time saves") {
  const Folder folder;
  REQUIRE(shell("hairline demo --small .", folder).status == 0);
  const auto report_of = [&](const std::string& job) {
    const Ran ran = shell("hairline check " + job + " --record harbour-grey.json --today 2026-11-07 --json -", folder);
    REQUIRE(ran.err.empty());
    return nlohmann::json::parse(ran.out);
  };
  const auto lost = [](const nlohmann::json& row) {
    return std::pair{row["vanish"].get<int>(), row["fuse"].get<int>()};
  };
  const auto hull = report_of("hull.zip"), plate = report_of("nameplate.zip"), gallery = report_of("gallery-small.zip");
  CHECK(hull["verdict"] == "clear");
  CHECK(hull["suggestion"]["action"] == "keep");
  CHECK(hull["rounding"]["fuse"] > 0);  // the crease between hull and plinth
  CHECK(lost(hull["suggestion"]["now"]) == std::pair{0, 0});

  CHECK(plate["verdict"] == "hold");
  CHECK(plate["suggestion"]["action"] == "change");
  CHECK(lost(plate["suggestion"]["now"]).second > 0);  // sunk letters
  CHECK(lost(plate["suggestion"]["then"]) == std::pair{0, 0});
  const auto taken =
      report_of("nameplate.zip --exposure " + std::to_string(plate["suggestion"]["exposure_s"].get<double>()));
  CHECK(taken["verdict"] == "clear");
  CHECK(taken["suggestion"]["action"] == "keep");

  CHECK(gallery["verdict"] == "hold");
  CHECK(gallery["suggestion"]["action"] == "keep");
  CHECK(lost(gallery["suggestion"]["now"]) == std::pair{11, 4});
  CHECK(gallery["suggestion"]["changes"].size() == 15);
}

TEST_CASE("reports satisfy formats/preflight-report.schema.json (checked by python3-jsonschema)") {
  const Folder folder;
  write_file(folder / "record.json", record_text());
  write_zip(folder / "thin.zip", true);
  REQUIRE(check(folder, "thin.zip", {"--json", "checked.json"}).status == 1);  // its thin wall is lost
  REQUIRE(hairline::test::hairline({"measure", "thin.zip", "--json", "measured.json"}, folder.path()).status == 0);
  for (const char* report : {"checked.json", "measured.json"}) {
    const Ran ran = validate(report, folder);
    if (ran.status == 77 || ran.status == 127) {
      WARN("skipped: python3-jsonschema is not there");
      return;
    }
    INFO(ran.err);
    CHECK(ran.status == 0);
  }
  // The validator itself: a spoilt report must not pass.
  write_file(folder / "spoilt.json", "{\"format\": \"preflight-report\", \"version\": 2}");
  CHECK(validate("spoilt.json", folder).status != 0);
}
