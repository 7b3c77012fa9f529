// The page and the schema of the resin record say of every field what the table says.
#include "calibrate/reading_fields.hpp"

#include <catch2/catch.hpp>
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
