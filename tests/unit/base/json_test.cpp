// Reading JSON texts: RFC 8259; nlohmann's own reader of documents is the judge for sound texts.
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <string>

#include "base/fields.hpp"

using namespace hairline;
using Json = nlohmann::ordered_json;

namespace {

JsonProblem problem_of(const std::string& text) {
  Json value;
  const JsonProblem problem = parse_json(text, value);
  CHECK((problem.fault != JsonFault::none) == value.is_discarded());
  return problem;
}

}  // namespace

TEST_CASE("values are those of the general reader") {
  for (const char* text :
       {"{}", "[]", "7", "null", "\"x\"", "true", "-1", "2.5e3", "18446744073709551615",
        R"({"b": 1, "a": [1, [2, {"c": null}], "\u00e4\n"], "": {"x": {}}, "z": false})",
        R"({"a": 1, "b": 2, "a": {"b": 1, "b": 2}, "c": 3, "b": [4], "a": 5})", "\xEF\xBB\xBF{\"mark\": 1}"}) {
    CHECK(json_in(text).dump() == Json::parse(text).dump());
  }
}

TEST_CASE("what is no JSON is refused with its place") {
  for (const char* text : {"", "{", "{\"a\" 1}", "[1,]", "{} {}", "\"\x01\"", "\"\xFF\"", "nul", "1e999"}) {
    std::size_t byte = 0;
    try {
      const Json never = Json::parse(text);
      FAIL(never);
    } catch (const Json::parse_error& error) {
      byte = error.byte;
    } catch (const Json::out_of_range&) {
      CHECK(problem_of(text).fault == JsonFault::number);
      continue;
    }
    CHECK(problem_of(text).fault == JsonFault::syntax);
    CHECK(problem_of(text).byte == byte);
  }
}

TEST_CASE("a NUL ends no text") {
  using namespace std::string_literals;
  CHECK(problem_of("{}\0"s).byte == 3);
  CHECK(problem_of("{\"a\": 1}\0garbage"s).fault == JsonFault::syntax);
  CHECK(problem_of("{\"a\0\": 1}"s).fault == JsonFault::syntax);
  CHECK(object_in("{}\0{}"s).empty());
}

TEST_CASE("nesting and the number of values are bounded") {
  CHECK(problem_of(std::string(100, '[') + std::string(100, ']')).fault == JsonFault::none);
  CHECK(problem_of(std::string(101, '[') + std::string(101, ']')).fault == JsonFault::deep);
  CHECK(problem_of(std::string(1'000'000, '[')).fault == JsonFault::deep);
  CHECK(problem_of("[\"[[[[\", \"\\\"[[\"]" + std::string()).fault == JsonFault::none);
  std::string many = "[0";
  for (std::size_t i = 2; i < most_values; ++i) many += ",0";
  CHECK(problem_of(many + "]").fault == JsonFault::none);
  CHECK(problem_of(many + ",0]").fault == JsonFault::large);
}

TEST_CASE("an object of very many members is read, and of namesakes the last counts") {
  // With a search through all earlier members this is 4e10 comparisons of texts: it would not end.
  std::string text = "{\"first\": 0";
  for (int i = 0; i < 200'000; ++i) text += ",\"key" + std::to_string(i) + "\":" + std::to_string(i);
  const Json value = json_in(text + ",\"key7\": 1, \"first\": 2}");
  REQUIRE(value.size() == 200'001);
  CHECK(value.begin().key() == "first");
  CHECK(value["first"] == 2);
  CHECK(value["key7"] == 1);
  CHECK(value["key199999"] == 199'999);
}
