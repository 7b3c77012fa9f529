// The examples of README.md run as they stand, in order, and reports satisfy their schema by a general validator.
#include <catch2/catch.hpp>
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
  for (const std::string& example : examples) {
    const Ran ran = shell(example, folder);
    INFO(example << "\n" << ran.err);
    CHECK(ran.status >= 0);
    CHECK(ran.status <= 1);
    CHECK(ran.err.empty());
  }
}

TEST_CASE("reports satisfy formats/preflight-report.schema.json (checked by python3-jsonschema)") {
  const Folder folder;
  write_file(folder / "record.json", record_text());
  write_zip(folder / "thin.zip", true);
  REQUIRE(check(folder, "thin.zip", {"--json", "checked.json"}).status == 0);
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
  write_file(folder / "spoilt.json", "{\"format\": \"preflight-report\", \"version\": 1}");
  CHECK(validate("spoilt.json", folder).status != 0);
}
