// A report read from its JSON: written again it gives the same bytes, and says the same on a terminal where its numbers
// have the six digits of the file; what is wrong is named by its path.
#include <catch2/catch.hpp>
#include <filesystem>
#include <functional>
#include <limits>
#include <nlohmann/json.hpp>

#include "fill.hpp"
#include "sample.hpp"

using namespace hairline;
using hairline::test::Fill;
using hairline::test::Random;
using Json = nlohmann::ordered_json;

namespace {

Report random_report(Random& random, bool bad_bytes) {
  Report report;
  Fill fill{random, bad_bytes};
  each_field(fill, report);
  if (report.record) fill("notes", report.record->notes);
  report.base.findings.resize(random.below(3));
  for (BaseReport::Finding& finding : report.base.findings) finding = {fill.text(), random.chance(0.5)};
  for (std::size_t i = 0; i < report.details.size(); ++i) {
    report.details[i].id = static_cast<std::uint32_t>(i + 1);
    if (report.details[i].base) report.details[i].critical_exposure_s.reset();
  }
  double bottom_mm = 0;
  for (std::size_t i = 0; i < report.layers.size(); ++i) {
    report.layers[i].layer = static_cast<std::uint32_t>(i + 1);
    report.layers[i].bottom_mm = std::exchange(bottom_mm, bottom_mm + report.layers[i].height_mm);
  }
  return report;
}

Report read_again(const Report& report) {
  const auto read = parse_report(to_json(report), "report.json");
  INFO((read ? "" : to_paragraph(read.error())));
  REQUIRE(read);
  return *read;
}

std::string said(const Report& report) {
  std::string text = show_terminal(say_sweep(report), {});
  for (const std::uint32_t details : {2u, 10u, UINT32_MAX})
    text += show_terminal(say_report(report, {.details = details}), {});
  return text;
}

// What is wrong with the gallery's report after `spoil`.
std::string fault(const std::function<void(Json&)>& spoil) {
  Json json = Json::parse(to_json(sample::gallery()));
  spoil(json);
  const auto read = parse_report(json.dump(), "report.json");
  REQUIRE_FALSE(read);
  CHECK(read.error().file == "report.json");
  return read.error().found;
}

}  // namespace

TEST_CASE("a report that is read gives the same bytes and says the same") {
  for (const Report& report : {sample::gallery(), sample::cottage(), sample::cutter(), sample::measured_only(),
                               sample::under_bond(), sample::nothing_solid(), sample::busy(), sample::busy(true)}) {
    INFO(report.job.title);
    const Report read = read_again(report);
    CHECK(to_json(read) == to_json(report));
    CHECK(to_csv(read) == to_csv(report));
    CHECK(to_sweep_csv(read) == to_sweep_csv(report));
    CHECK(said(read_again(read)) == said(read));
    if (report.details.size() < 50) CHECK(said(read) == said(report));  // the busy ones have more digits
  }
  CHECK(to_json(read_again(sample::hostile())) == to_json(sample::hostile()));
}

TEST_CASE("random reports: written, read and written again, the same bytes") {
  Random random(20261126);
  std::size_t details = 0, without_record = 0;
  for (int i = 0; i < 400; ++i) {
    const Report report = random_report(random, i % 4 == 0);
    const std::string text = to_json(report);
    const Report read = read_again(report);
    CHECK(to_json(read) == text);
    if (i % 4 != 0) CHECK(said(read) == said(report));  // bad bytes are U+FFFD in a file
    details += read.details.size();
    without_record += !read.record;
  }
  CHECK(details > 400);  // there was something to read
  CHECK(without_record > 50);
}

TEST_CASE("the first field that is wrong is named by its path") {
  CHECK(fault([](Json& json) { json["details"][2]["box_mm"] = {1, 2}; }) == "details[3].box_mm is a JSON array");
  CHECK(fault([](Json& json) { json["details"][2]["box_mm"][1][0] = "wide"; }) == "details[3].box_mm is a JSON array");
  CHECK(fault([](Json& json) { json["suggestion"]["now"].erase("fuse"); }) == "suggestion.now has no fuse");
  CHECK(fault([](Json& json) { json["job"]["layers"] = 12.5; }) == "job.layers is 12.5");
  CHECK(fault([](Json& json) { json["job"]["layers"] = nullptr; }) == "job.layers is null");
  CHECK(fault([](Json& json) { json["bulk"]["lost_mm3"] = "none"; }) == "bulk.lost_mm3 is \"none\"");
  CHECK(fault([](Json& json) { json["record"]["age_days"] = 1.5; }) == "record.age_days is 1.5");
  CHECK(fault([](Json& json) { json["record"]["doubts"] = {"other"}; }) == "record.doubts is a JSON array");
  CHECK(fault([](Json& json) { json["layers"]["pieces"] = {1, 2}; }) == "layers.pieces has 2 entries");
  CHECK(fault([](Json& json) { json["layers"]["pieces"][1] = -1; }) == "layers.pieces is -1 for layer 2");
  CHECK(fault([](Json& json) { json["layers"]["kind"][0] = "raft"; }) == "layers.kind is \"raft\" for layer 1");
  CHECK(fault([](Json& json) { json["layers"].erase("solid_mm2"); }).find("solid_mm2") != std::string::npos);
  CHECK(fault([](Json& json) { json["falls"][0]["details"] = {"#1"}; }) == "falls[1].details holds \"#1\"");
  CHECK(fault([](Json& json) { json["suggestion"]["window_s"] = {1}; }) == "suggestion.window_s is a JSON array");
  CHECK(fault([](Json& json) { json["base"]["comes_off"] = true; }) == "base.comes_off is true");
  CHECK(fault([](Json& json) { json["format"] = "other"; }).find("other") != std::string::npos);
}

TEST_CASE("every broken report is refused") {
  std::size_t files = 0;
  for (const auto& entry :
       std::filesystem::directory_iterator(HAIRLINE_SOURCE_DIR "/formats/broken/preflight-report")) {
    if (entry.path().extension() != ".json") continue;
    INFO(entry.path());
    CHECK_FALSE(read_report(entry.path()));
    ++files;
  }
  CHECK(files >= 15);
  CHECK(read_report("/nowhere/report.json").error().kind == ErrorKind::not_found);
}

TEST_CASE("a file without the lists that came later is read as if all layers were normal and nothing was read") {
  Json json = Json::parse(to_json(sample::gallery()));
  for (const char* later : {"kind", "wall_at_mm", "gap_at_mm"}) json["layers"].erase(later);
  for (Json& detail : json["details"]) detail.erase("shuts");
  json["record"].erase("readings");
  const auto read = parse_report(json.dump(), "report.json");
  REQUIRE(read);
  CHECK(read->layers.size() == 3);
  CHECK(read->layers[2].kind == LayerKind::normal);
  CHECK(read->layers[2].bottom_mm == Approx(0.1));
  CHECK(read->layers[1].thinnest_wall_mm == 0.1);
}
