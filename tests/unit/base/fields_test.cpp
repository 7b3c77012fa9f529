// The reader of JSON files: every kind of member, left out, of the wrong kind, out of range; and whose error is told.
#include "base/fields.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>

using namespace hairline;

namespace {

constexpr JsonKind kind{.format = "tide-table",
                        .version = "2",
                        .damaged = "Mend it.",
                        .other = "Give a tide table.",
                        .convert = "Convert."};
constexpr Range height_mm{0, 5, true, "mm"};
constexpr const char* tides[]{"ebb", "flood", "slack"};

Fields opened(const std::string& members) {
  const auto top = read_json(R"({"format": "tide-table", "version": 2, )" + members + "}", "tides.json", kind);
  REQUIRE(top);
  return *top;
}

std::string refused(const std::string& text) {
  const auto top = read_json(text, "tides.json", kind);
  REQUIRE_FALSE(top);
  CHECK(top.error().file == "tides.json");
  return to_string(top.error().kind) + ": " + to_paragraph(top.error());
}

// The paragraph after reading.
std::string error_after(const std::string& members, const std::function<void(const Fields&)>& read) {
  const Fields top = opened(members);
  read(top);
  return top.error() ? to_paragraph(*top.error()) : "";
}

}  // namespace

TEST_CASE("a file of another kind is told apart from damage") {
  CHECK(refused("{\n  \"format\": oops") ==
        "broken: tides.json: the file is not JSON (line 2, column 13); expected a JSON text. Mend it.");
  CHECK(refused("{\"n\": 1e999}").find("holds a number too large to be read") != std::string::npos);
  CHECK(refused("[1]") ==
        "invalid: tides.json: the file holds a JSON array; expected a JSON object. Give a tide table.");
  CHECK(refused("{}") ==
        "invalid: tides.json: the file has no \"format\"; expected \"format\": \"tide-table\". Give a tide table.");
  CHECK(refused(R"({"format": "log", "version": 2})") ==
        "version: tides.json: \"format\" is \"log\"; expected \"format\": \"tide-table\". Give a tide table.");
  CHECK(refused(R"({"format": "tide-table", "version": "2"})") ==
        "version: tides.json: \"version\" is \"2\"; expected \"version\": 2. Convert.");
  CHECK(refused(std::string(200, '[')).rfind("limit: tides.json: the file is nested too deep", 0) == 0);
}

TEST_CASE("members of every kind are read, optional ones may be left out or null") {
  const Fields top = opened(
      R"("x": 2.5, "n": 3, "name": "pier", "on": true, "tide": "flood", "none": null, "in": {"deep": {"x": 1}},
         "list": [{"x": 1}, {"x": 2}], "numbers": [1, 2.5], "texts": ["a", "b"])");
  CHECK(top.number("x", height_mm) == 2.5);
  CHECK(top.whole("n", {0, 10}) == 3);
  CHECK(top.text("name") == "pier");
  CHECK(top.flag("on"));
  CHECK(top.word("tide", tides) == 1);
  CHECK(top.number("in.deep.x", height_mm) == 1);
  CHECK(top.object("in").object("deep").number("x", height_mm) == 1);
  const auto list = top.list("list");
  REQUIRE(list.size() == 2);
  CHECK(list[1].number("x", height_mm) == 2);
  CHECK(list[1].source() == R"({"x":2})");
  CHECK(top.numbers("numbers", height_mm) == std::vector<double>{1, 2.5});
  CHECK(top.texts("texts") == std::vector<std::string>{"a", "b"});
  for (const char* key : {"none", "absent", "absent.x", "in.absent"}) {
    CHECK_FALSE(top.optional_number(key, height_mm));
    CHECK_FALSE(top.optional_whole(key, height_mm));
    CHECK(top.optional_text(key, "else") == "else");
    CHECK_FALSE(top.optional_flag(key));
    CHECK(top.optional_list(key).empty());
    CHECK_FALSE(top.optional_object(key).has("x"));
  }
  CHECK(*top.optional_number("x", height_mm) == 2.5);
  CHECK_FALSE(top.error());
}

TEST_CASE("the first error is kept, with the full name of its member") {
  const auto number = [](const char* key) { return [key](const Fields& top) { top.number(key, height_mm); }; };
  CHECK(error_after(R"("x": 7)", number("x")) ==
        "tides.json: x is 7; expected a number over 0 and up to 5 mm. Correct x, or leave it out if it is not known.");
  CHECK(error_after(R"("x": "7")", number("x")).find("x is \"7\"; expected a number") != std::string::npos);
  CHECK(error_after(R"("x": null)", number("x")).find("x is null") != std::string::npos);
  CHECK(error_after(R"("y": 1)", number("x")) ==
        "tides.json: the file has no x; expected a number over 0 and up to 5 mm. Add x.");
  CHECK(error_after(R"("in": {})", number("in.x")).find("in has no x; ") != std::string::npos);
  CHECK(error_after(R"("in": 3)", number("in.x")).find("in is 3; expected a JSON object") != std::string::npos);
  CHECK(error_after(R"("n": 2.5)", [](const Fields& top) {
          top.whole("n", {0, 4});
        }).find("a whole number from 0 to 4") != std::string::npos);
  CHECK(error_after(R"("on": 1)", [](const Fields& top) { top.flag("on"); }).find("true or false") !=
        std::string::npos);
  CHECK(error_after(R"("tide": "high")", [](const Fields& top) {
          top.word("tide", tides);
        }).find("tide is \"high\"; expected one of ebb, flood, slack") != std::string::npos);
  CHECK(error_after(R"("list": [{"x": 1}, 4])", [](const Fields& top) {
          top.list("list");
        }).find("list, entry 2, is 4; expected a JSON object") != std::string::npos);
  CHECK(error_after(R"("list": {})", [](const Fields& top) { top.list("list"); }).find("expected a JSON array") !=
        std::string::npos);
  CHECK(error_after(R"("numbers": [1, 9])", [](const Fields& top) {
          top.numbers("numbers", height_mm);
        }).find("numbers holds 9; expected a number over 0") != std::string::npos);
  CHECK(error_after(R"("texts": ["a", 9])", [](const Fields& top) {
          top.texts("texts");
        }).find("texts holds 9; expected a text") != std::string::npos);
  const std::string first = error_after(R"("list": [{"x": 1}, {"x": -1}], "y": 9)", [](const Fields& top) {
    for (const Fields& entry : top.list("list")) entry.number("x", height_mm);
    CHECK(top.number("y", height_mm) == 0);  // everything reads as left out from then on
    CHECK_FALSE(top.optional_number("y", height_mm));
  });
  CHECK(first.find("list[2].x is -1; ") != std::string::npos);
}

TEST_CASE("a range holds its ends as it says, and no number that is none") {
  for (const bool above : {true, false}) {
    const Range range{0.1, 5, above, "mm"};
    CHECK(range.holds(0.1) == !above);
    CHECK(range.holds(5));
    CHECK(range.holds(std::nextafter(0.1, 1)));
    CHECK_FALSE(range.holds(std::nextafter(5, 6)));
    CHECK_FALSE(range.holds(std::nextafter(0.1, 0)));
    CHECK_FALSE(range.holds(std::nan("")));
    CHECK_FALSE(range.holds(std::numeric_limits<double>::infinity()));
  }
  for (const char* text : {"2.5", "1e-3", "-4"}) CHECK(parse_number(text) == std::stod(text));
  for (const char* text : {"", " 1", "1 ", "+1", "1,5", "0x10", "nan", "inf", "1e999", "1mm"})
    CHECK_FALSE(parse_number(text));
}
