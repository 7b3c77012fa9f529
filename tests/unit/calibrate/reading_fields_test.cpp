// The page and the schema of the resin record say of every field what the table says.
#include "calibrate/reading_fields.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <nlohmann/json.hpp>

#include "hairline/files.hpp"

using namespace hairline;
using Json = nlohmann::json;

namespace {

// What the schema says of a member, by its path.
Json at_path(Json schema, std::string key) {
  for (std::size_t stop = 0; stop != std::string::npos;) {
    stop = key.find('.');
    REQUIRE(schema["properties"].contains(key.substr(0, stop)));
    schema = schema["properties"][key.substr(0, stop)];
    if (stop != std::string::npos) key.erase(0, stop + 1);
  }
  return schema;
}

void check_rule(const FieldRule& rule, const Json& parent) {
  INFO(rule.key);
  const Json said = at_path(parent, rule.key);
  const auto& must = parent.value("required", Json::array());
  CHECK((std::find(must.begin(), must.end(), rule.key) != must.end()) == rule.required);
  if (rule.holds == Holds::number || rule.holds == Holds::whole) {
    const char* low = rule.range.above_low ? "exclusiveMinimum" : "minimum";
    REQUIRE(said.contains(low));
    CHECK(said[low] == rule.range.low);
    CHECK(said["maximum"] == rule.range.high);
    CHECK(said.dump().find(rule.holds == Holds::whole ? "integer" : "number") != std::string::npos);
  } else if (rule.holds == Holds::word) {
    std::vector<std::string> words(rule.words.begin(), rule.words.end()), schema;
    for (const Json& word : said["enum"])
      if (word.is_string() && word != "") schema.push_back(word);
    CHECK(schema == words);
  } else {
    CHECK(said.dump().find("string") != std::string::npos);
    CHECK(said.contains("pattern") == (rule.holds == Holds::date));
  }
}

}  // namespace

TEST_CASE("table and schema of the resin record agree") {
  const Json schema = Json::parse(*read_text(std::string(HAIRLINE_SOURCE_DIR) + "/formats/resin-record.schema.json"));
  for (const auto& fact : fact_fields) check_rule(fact, schema);
  const Json readings = schema["properties"]["readings"]["properties"];
  for (const auto& rule : bracket_fields) check_rule(rule, readings["bracket"]["items"]);
  for (const auto& rule : cure_depth_fields) check_rule(rule, readings["cure_depth"]["items"]);
  for (const auto& rule : base_fields) check_rule(rule, readings["base"]["items"]);
}

TEST_CASE("every field of a reading is written as it is read") {
  BracketReading reading;
  for (const auto& field : bracket_fields) {
    const auto& words = field.words;
    field.set(reading, field.holds == Holds::number ? FieldValue(field.range.high)
                       : field.holds == Holds::word ? FieldValue(static_cast<double>(words.size() - 1))
                                                    : FieldValue("2026-11-01"));
  }
  ResinRecord record;
  record.bracket = {reading};
  const auto back = parse_record(write_record(record), "");
  REQUIRE(back);
  REQUIRE(back->bracket.size() == 1);
  for (const auto& field : bracket_fields) {
    INFO(field.key);
    CHECK(field.get(reading));
    CHECK(field.get(back->bracket[0]) == field.get(reading));
  }
}

namespace {

BracketReading typed(const Cells& cells, double layer_height_mm = 0.05) {
  const auto readings = readings_from_options(cells, layer_height_mm);
  REQUIRE(readings);
  return std::get<BracketReading>(readings->front());
}

}  // namespace

TEST_CASE("walls and slots in several directions: their mean, and their spread as the error") {
  const auto one = typed({{"exposure_s", "2.5"}, {"thinnest_wall_mm", "0.08 0.09 0.085"}});
  CHECK(*one.thinnest_wall_mm == Approx(0.085));
  CHECK(*one.reading_error_mm == Approx(0.005));  // sample standard deviation, by hand
  const auto both = typed({{"exposure_s", "2.5"},
                           {"thinnest_wall_mm", "0,08 0,10 0,12 mm"},
                           {"narrowest_slot_mm", "90 um, 110 um, 100 um"}});
  CHECK(*both.thinnest_wall_mm == Approx(0.1));
  CHECK(*both.narrowest_slot_mm == Approx(0.1));
  CHECK(*both.reading_error_mm == Approx(std::sqrt((2 * 4e-4 + 2 * 1e-4) / 4)).epsilon(1e-5));  // pooled, closed form
  // Three alike are no ladder, and not read without error.
  CHECK(*typed({{"exposure_s", "2.5"}, {"thinnest_wall_mm", "0.08 0.08 0.08"}}).reading_error_mm == 0.005);
  // What is stated goes before.
  CHECK(*typed({{"exposure_s", "2.5"}, {"thinnest_wall_mm", "0.08 0.1"}, {"reading_error_mm", "0.02"}})
             .reading_error_mm == 0.02);
  CHECK_FALSE(typed({{"exposure_s", "2.5"}, {"thinnest_wall_mm", "0,08"}}).reading_error_mm);
  CHECK_FALSE(readings_from_options({{"exposure_s", "2.5"}, {"thinnest_pin_mm", "0.08 0.1"}}, 0.05));
}

TEST_CASE("flat slots in layers of the record's height, or in mm") {
  const auto flat = [](const char* text, double layer_height_mm) {
    return *typed({{"exposure_s", "2.5"}, {"narrowest_flat_slot_mm", text}}, layer_height_mm).narrowest_flat_slot_mm;
  };
  CHECK(flat("3 layers", 0.05) == 0.15);
  CHECK(flat("3", 0.03) == 0.09);
  CHECK(flat("1 layer", 0.05) == 0.05);
  CHECK(flat("0.15", 0.03) == 0.15);
  CHECK(flat("0,15 mm", 0.03) == 0.15);
  CHECK(flat("1 mm", 0.03) == 1);
  const auto half = readings_from_options({{"exposure_s", "2.5"}, {"narrowest_flat_slot_mm", "3,5"}}, 0.05);
  REQUIRE_FALSE(half);  // neither full layers nor a slot that the stair has
  CHECK(half.error().expected == "a number over 0 and up to 5 mm, or full layers");
  // A column of a table is in mm, as its name says.
  const auto table = parse_readings_csv("exposure_s,narrowest_flat_slot_mm\n2.5,1\n", "");
  REQUIRE(table);
  CHECK(std::get<BracketReading>((*table)[0]).narrowest_flat_slot_mm == 1);
}

TEST_CASE("what is asked goes by the letters of the sheet, and the look comes last") {
  std::string letters;
  for (const FieldRule& rule : asked_rules()) letters += rule.letter;
  CHECK(letters == "MABCDEFGHL");
}
