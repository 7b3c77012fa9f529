// JSON: names, order and shapes as formats/preflight-report.md fixes them; the schema itself is checked by
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
  CHECK(keys(json) == std::vector<std::string>{"format",       "version",     "job",         "record", "exposure_s",
                                               "verdict",      "reasons",     "whole_fails", "bulk",   "base_bulk",
                                               "details",      "falls",       "rounding",    "crumbs", "islands",
                                               "island_count", "speck_count", "faint",       "base",   "growth",
                                               "suggestion",   "limits",      "layers"});
  CHECK(json["format"] == "preflight-report");
  CHECK(json["version"] == 2);
  CHECK(json["job"]["duration_s"] == 28080);
  CHECK(json["job"]["resin_g"] == 67.32);
  CHECK(json["record"]["age_days"] == 6);
  CHECK(json["verdict"] == "hold");
  CHECK(json["island_count"] == 2);
  CHECK(json["speck_count"] == 1);
  CHECK(json["job"]["resin_cost"] == 2.448);
  CHECK(Json::parse(to_json(sample::measured_only()))["job"]["resin_cost"].is_null());
  CHECK(json["whole_fails"] == false);
  CHECK(keys(json["bulk"]) == std::vector<std::string>{"bond_time_s", "margin", "chance", "layer", "lost_mm3"});
  CHECK(json["bulk"]["margin"] == 1.4375);
  CHECK(keys(json["base_bulk"]) == std::vector<std::string>{"bond_time_s", "margin", "chance", "layer"});
  CHECK(json["rounding"] == Json::parse(R"({"vanish": 12, "vanish_mm3": 0.05, "fuse": 125, "fuse_mm3": 2.9,
                                            "deepest_mm": 0.05, "not_looked_at": 0})"));
  CHECK(json["crumbs"]["deep_mm3"] == 0);
}

TEST_CASE("growth in JSON: printed sizes, null where a thing closes or nothing is known") {
  const Json growth = Json::parse(to_json(sample::gallery()))["growth"];
  CHECK(keys(growth) == std::vector<std::string>{"normal_mm", "base_mm", "outline_mm", "widths", "findings"});
  CHECK(growth["outline_mm"] == -0.027);
  CHECK(growth["widths"][0] == Json::parse(R"({"drawn_mm": 0.1, "wall_mm": 0.128, "slot_mm": 0.037, "pin_mm": 0.103,
                                               "hole_mm": null, "wall_mm2": 12, "slot_mm2": 0})"));
  const Json measured = Json::parse(to_json(sample::measured_only()))["growth"];
  CHECK(measured["normal_mm"].is_null());
  CHECK(measured["widths"][0]["wall_mm"].is_null());
  CHECK(measured["widths"][0]["wall_mm2"] == 12);
}

TEST_CASE("a detail, an island, a fall in JSON") {
  const Json json = Json::parse(to_json(sample::gallery()));
  REQUIRE(json["details"].size() == 16);  // never cut
  const Json& detail = json["details"][0];
  CHECK(detail["id"] == 1);
  CHECK(detail["fate"] == "vanish");
  CHECK(detail["box_mm"] == Json::parse("[[12.0, 8.0, 40.5], [12.1, 8.1, 48.7]]"));
  CHECK(detail["carries_mm3"] == 3.5);
  CHECK(detail["avoidable"] == true);
  CHECK(keys(detail) == std::vector<std::string>{"id",
                                                 "fate",
                                                 "state",
                                                 "lost",
                                                 "base",
                                                 "from_layer",
                                                 "to_layer",
                                                 "box_mm",
                                                 "volume_mm3",
                                                 "width_mm",
                                                 "flat",
                                                 "depth_mm",
                                                 "share",
                                                 "reach_mm",
                                                 "welds",
                                                 "shuts",
                                                 "breaks",
                                                 "extent_mm",
                                                 "critical_exposure_s",
                                                 "log_sd",
                                                 "probability",
                                                 "avoidable",
                                                 "carries_mm3",
                                                 "harm_mm"});
  CHECK(detail["state"] == "will");
  CHECK(detail["lost"] == true);
  CHECK(detail["harm_mm"] == 24.2);
  CHECK(json["details"][15]["lost"] == false);
  CHECK(json["details"][15]["share"].is_null());
  CHECK(json["details"][15]["reach_mm"].is_null());
  CHECK(Json::parse(to_json(sample::cutter()))["details"][0]["state"] == "may");
  CHECK(json["details"][14]["fate"] == "fuse");
  CHECK(json["details"][14]["avoidable"] == false);
  CHECK(json["islands"][0]["joins_layer"] == 377);
  CHECK(json["islands"][1]["joins_layer"].is_null());
  CHECK(json["islands"][0]["held_by_fill"] == false);
  CHECK(Json::parse(to_json(sample::cutter()))["islands"][0]["held_by_fill"] == true);
  CHECK(json["falls"][0]["details"] == Json::parse("[1, 2, 3, 4, 5]"));
}

TEST_CASE("the suggestion in JSON: what to do, the rows of now and then, and every row") {
  Report report = sample::gallery();
  report.suggestion->sweep[1].bulk_chance.reset();
  report.suggestion->coupons = CouponAdvice{.exposures_s = {3.4, 3.7}, .saves = 2};
  report.suggestion->exception = OwnTime{31, 40, 1.7};
  const Json json = Json::parse(to_json(report))["suggestion"];
  CHECK(keys(json) == std::vector<std::string>{"action", "exposure_s", "window_s", "conflict", "base_s", "text",
                                               "changes", "layer_height_mm", "coupons", "exception", "covered_s",
                                               "then_hangs_mm3", "tonight", "slicing", "modelling", "now", "then",
                                               "coarse_sweep", "sweep"});
  CHECK(json["action"] == "change");
  CHECK(json["window_s"] == Json::parse("[2.5, 2.9]"));
  CHECK(json["coupons"] == Json::parse(R"({"exposures_s": [3.4, 3.7], "saves": 2})"));
  CHECK(json["exception"] == Json::parse(R"({"from_layer": 31, "to_layer": 40, "exposure_s": 1.7})"));
  CHECK(keys(json["now"]) == std::vector<std::string>{"exposure_s", "vanish", "fuse", "vanish_mm3", "fuse_mm3",
                                                      "expected_losses", "expected_mm", "expected_fuse_mm",
                                                      "bulk_chance", "uncured_share", "half_lost"});
  CHECK(json["now"]["exposure_s"] == 2.3);
  CHECK(json["now"]["expected_mm"] == 116.32);
  CHECK(json["then"]["vanish"] == 0);
  CHECK(json["sweep"].size() == 13);
  CHECK(json["sweep"][0]["bulk_chance"] == 0.02);
  CHECK(json["sweep"][1]["bulk_chance"].is_null());
  CHECK(Json::parse(to_json(sample::cottage()))["suggestion"]["action"] == "keep");
  CHECK(Json::parse(to_json(sample::cottage()))["suggestion"]["coupons"].is_null());
  CHECK(Json::parse(to_json(sample::under_bond()))["suggestion"]["action"] == "record");
}

TEST_CASE("a print that fails as a whole in JSON") {
  const Json json = Json::parse(to_json(sample::under_bond()));
  CHECK(json["whole_fails"] == true);
  CHECK(json["details"].empty());
  CHECK(json["bulk"]["chance"] == 0.98);
  CHECK(json["bulk"]["lost_mm3"] == 57200);
  CHECK(Json::parse(to_json(sample::nothing_solid()))["bulk"].is_null());
}

TEST_CASE("doubts about a record come first among its notes") {
  const Json record = Json::parse(to_json(sample::gallery()))["record"];
  CHECK(record["notes"].size() == 2);
  CHECK(record["notes"][0] == record["doubts"][0]);
  CHECK(record["doubts"].size() == 1);
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
  CHECK(json["bulk"].is_null());
  CHECK(json["base_bulk"].is_null());
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
  const std::vector<std::pair<std::string, Report>> examples = {{"gallery", sample::gallery()},
                                                                {"cottage", sample::cottage()},
                                                                {"cutter", sample::cutter()},
                                                                {"under-bond", sample::under_bond()},
                                                                {"measured-only", sample::measured_only()}};
  for (const auto& [name, report] : examples) {
    INFO(name);
    CHECK(to_json(report) == file_text(HAIRLINE_SOURCE_DIR "/formats/examples/preflight-report/" + name + ".json"));
  }
}
