// JSON: names, order and shapes as design 4.3 and formats/preflight-report.md fix them; the schema itself is checked by
// tests/formats with a general validator.
#include <algorithm>
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "sample.hpp"

using namespace hairline;
using Json = nlohmann::ordered_json;

namespace {

std::vector<std::string> keys(const Json& json) {
  std::vector<std::string> names;
  for (const auto& item : json.items()) names.push_back(item.key());
  return names;
}

std::string file_text(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

}  // namespace

TEST_CASE("fields come in a fixed order under their agreed names") {
  const Json json = Json::parse(to_json(sample::gallery()));
  CHECK(keys(json) == std::vector<std::string>{"format", "version", "job", "record", "exposure_s", "verdict", "reasons",
                                               "details", "crumbs", "falls", "islands", "island_count", "speck_count",
                                               "base", "suggestion", "limits", "layers"});
  CHECK(json["format"] == "preflight-report");
  CHECK(json["version"] == 1);
  CHECK(json["job"]["duration_s"] == 28080);
  CHECK(json["job"]["resin_g"] == 67.32);
  CHECK(json["record"]["age_days"] == 6);
  CHECK(json["verdict"] == "hold");
  CHECK(json["island_count"] == 2);
  CHECK(json["speck_count"] == 1);
  CHECK(json["suggestion"]["window_s"] == Json::parse("[2.46, 2.86]"));
  CHECK(json["suggestion"]["sweep"].size() == 29);
  CHECK(json["base"]["findings"].size() == 1);
}

TEST_CASE("a detail, an island, a fall in JSON") {
  const Json json = Json::parse(to_json(sample::gallery()));
  REQUIRE(json["details"].size() == 15);  // never cut
  const Json& detail = json["details"][0];
  CHECK(detail["id"] == 1);
  CHECK(detail["fate"] == "vanish");
  CHECK(detail["box_mm"] == Json::parse("[[12.0, 8.0, 40.5], [12.1, 8.1, 48.7]]"));
  CHECK(detail["carries_mm3"] == 3.5);
  CHECK(detail["avoidable"] == true);
  CHECK(json["details"][14]["fate"] == "fuse");
  CHECK(json["details"][14]["avoidable"] == false);
  CHECK(json["islands"][0]["joins_layer"] == 377);
  CHECK(json["islands"][1]["joins_layer"].is_null());
  CHECK(json["falls"][0]["details"] == Json::parse("[1, 2, 3, 4, 5]"));
}

TEST_CASE("layer tables are in layer order, null where nothing thin was found") {
  const Json layers = Json::parse(to_json(sample::gallery()))["layers"];
  CHECK(layers["thinnest_wall_mm"] == Json::parse("[null, 0.1, null]"));
  CHECK(layers["thinnest_gap_mm"] == Json::parse("[null, null, null]"));
  CHECK(layers["pieces"] == Json::parse("[1, 2, 3]"));
  CHECK(layers["solid_mm2"] == Json::parse("[812.0, 406.0, 270.667]"));
}

TEST_CASE("without a record the parts that need one are null or empty") {
  const Json json = Json::parse(to_json(sample::measured_only()));
  CHECK(json["record"].is_null());
  CHECK(json["suggestion"].is_null());
  CHECK(json["details"].empty());
  CHECK(json["base"]["flare_mm"].is_null());
  CHECK(json["base"]["fuse_mm3"].is_null());
}

TEST_CASE("no NaN, no infinity, no bad UTF-8 and no raw control characters") {
  const std::string text = to_json(sample::hostile());
  const Json json = Json::parse(text);  // rejects bad UTF-8 and bare NaN (RFC 8259)
  CHECK(json["details"][0]["critical_exposure_s"].is_null());
  CHECK(json["details"][0]["width_mm"].is_null());
  CHECK(json["job"]["title"] == "gallery\x1b[31m\xEF\xBF\xBD\nclear");
  for (const char c : text) CHECK((c == '\n' || static_cast<unsigned char>(c) >= 0x20));
}

TEST_CASE("numbers have at most six significant digits and no negative zero") {
  Report report = sample::gallery();
  report.job.resin_ml = 1.0 / 3;
  report.job.resin_g = 1234567.8;
  report.exposure_s = -0.0;
  const std::string text = to_json(report);
  CHECK(text.find("\"resin_ml\": 0.333333,") != std::string::npos);
  CHECK(text.find("\"resin_g\": 1234570,") != std::string::npos);
  CHECK(text.find("\"exposure_s\": 0,") != std::string::npos);
}

TEST_CASE("a long report comes in parts that no one has to hold, and stops when it is not wanted") {
  Report report = sample::gallery();
  REQUIRE_FALSE(report.details.empty());
  report.details.resize(5000, report.details.front());
  std::string joined;
  std::size_t parts = 0, longest = 0;
  write_json(report, [&](std::string_view part) {
    joined += part;
    ++parts;
    longest = std::max(longest, part.size());
    return true;
  });
  CHECK(joined == to_json(report));
  CHECK(parts > 10);
  CHECK(longest < 2 * (std::size_t{1} << 16));

  parts = 0;
  write_json(report, [&](std::string_view) { return ++parts < 3; });
  CHECK(parts == 3);
}

TEST_CASE("same value, same bytes, the example in formats/ is what is written") {
  const std::string text = to_json(sample::gallery());
  CHECK(text == to_json(sample::gallery()));
  const std::string example = file_text(HAIRLINE_SOURCE_DIR "/formats/examples/preflight-report/gallery.json");
  REQUIRE_FALSE(example.empty());
  CHECK(text == example);
  CHECK(to_json(sample::measured_only()) ==
        file_text(HAIRLINE_SOURCE_DIR "/formats/examples/preflight-report/measured-only.json"));
}
