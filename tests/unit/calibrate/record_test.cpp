#include "hairline/record.hpp"

#include <unistd.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "hairline/fit.hpp"

using namespace hairline;
namespace fs = std::filesystem;

namespace {

std::string text_of(const fs::path& path) {
  std::ifstream file(path);
  REQUIRE(file);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

std::vector<fs::path> json_files(const fs::path& folder) {
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(folder)) {
    if (entry.path().extension() == ".json") files.push_back(entry.path());
  }
  std::sort(files.begin(), files.end());
  return files;
}

const fs::path formats = fs::path(HAIRLINE_SOURCE_DIR) / "formats";

constexpr const char* minimal =
    R"({"format": "resin-record", "version": 1, "layer_height_mm": 0.05,
        "fit": {"bond_time_s": 1.6, "fuse_time_s": 0.55, "blur_mm": 0.038, "penetration_depth_mm": 0.16}})";

}  // namespace

TEST_CASE("every example record can be read, written and read again") {
  const auto files = json_files(formats / "examples/resin-record");
  REQUIRE(files.size() >= 5);
  for (const auto& path : files) {
    INFO(path);
    const auto record = read_record(path);
    REQUIRE(record);
    const std::string written = write_record(*record);
    const auto again = parse_record(written, "");
    REQUIRE(again);
    CHECK(write_record(*again) == written);
    CHECK(again->bracket.size() == record->bracket.size());
    CHECK(again->fit.has_value() == record->fit.has_value());
    if (!record->bracket.empty()) CHECK(fit_record(*record));
  }
}

TEST_CASE("every broken record gives its stated error") {
  const auto files = json_files(formats / "broken/resin-record");
  REQUIRE(files.size() >= 25);
  for (const auto& path : files) {
    INFO(path);
    fs::path beside = path;
    std::string expected = text_of(beside.replace_extension(".expected"));
    if (expected.rfind("schema:", 0) == 0) expected.erase(0, 7);
    expected.erase(0, expected.find_first_not_of(' '));
    expected.erase(expected.find_last_not_of('\n') + 1);
    REQUIRE_FALSE(expected.empty());
    const auto record = read_record(path);
    REQUIRE_FALSE(record);
    CHECK(record.error().file == path.string());
    CHECK_THAT(to_paragraph(record.error()), Catch::Contains(expected));
  }
}

TEST_CASE("a hand-written fit needs no readings, no covariance and no range") {
  const auto record = parse_record(minimal, "mine.json");
  REQUIRE(record);
  const auto model = fitted_model(*record);
  REQUIRE(model);
  CHECK(model->bond_time_s == 1.6);
  CHECK(model->layer_height_mm == 0.05);
  CHECK(model->blur_shape == BlurShape::gaussian);
  CHECK_FALSE(model->log_covariance);
  CHECK(record->valid_range_assumed);
  CHECK(model->valid_from_s == Approx(1.05 * 1.6));
  CHECK(model->valid_to_s == Approx(2.2 * 1.6));
  CHECK(write_record(*record).find("valid_from_s") ==
        std::string::npos);  // an assumption is not written down as a fact
}

TEST_CASE("one end of the valid range may be left out") {
  for (const auto& [field, value] : {std::pair{"valid_from_s", 9.0}, std::pair{"valid_to_s", 1.0}}) {
    auto json = nlohmann::ordered_json::parse(minimal);
    json["fit"][field] = value;
    const auto record = parse_record(json.dump(), "");
    REQUIRE(record);
    CHECK(record->fit->valid_from_s < record->fit->valid_to_s);
  }
}

TEST_CASE("a record without a fit says how to get one") {
  const auto record = parse_record(R"({"format": "resin-record", "version": 1})", "bare.json");
  REQUIRE(record);
  CHECK(record->layer_height_assumed);
  const auto model = fitted_model(*record);
  REQUIRE_FALSE(model);
  CHECK(model.error().file == "bare.json");
  CHECK(model.error().found == "the resin record has no fit");
  CHECK_THAT(model.error().advice, Catch::Contains("record read"));
}

TEST_CASE("unknown fields survive a rewrite, at every level") {
  auto record = read_record(formats / "examples/resin-record/unknown-fields.json");
  REQUIRE(record);
  record->bracket[1].look = Look::crisp;
  record->printer.lamp_hours = 12;
  record->fit->bond_time_s = 1.45;
  const auto json = nlohmann::ordered_json::parse(write_record(*record));
  CHECK(json["note"] == "kept as it is");
  CHECK(json["resin"]["shelf"] == "B3");
  CHECK(json["conditions"]["weather"] == "fog");
  CHECK(json["readings"]["bracket"][0]["photo"] == "coupon-18.jpg");
  CHECK(json["readings"]["bracket"][1]["look"] == "crisp");
  CHECK(json["printer"]["lamp_hours"] == 12);
  CHECK(json["fit"]["who"] == "evening crew");
  CHECK(json["fit"]["bond_time_s"] == 1.45);
}

TEST_CASE("null counts as left out everywhere") {
  const auto record = parse_record(
      R"({"format": "resin-record", "version": 1, "resin": null, "printer": {"label": null, "pitch_mm": null}, "conditions": null,
          "layer_height_mm": null, "readings": {"bracket": null, "cure_depth": null, "base": [{"base_s": 30, "result": "held"}]},
          "fit": null})",
      "");
  REQUIRE(record);
  CHECK_FALSE(record->printer.pitch_mm);
  CHECK_FALSE(record->fit);
  CHECK(record->base.size() == 1);
}

TEST_CASE("covariances are accepted within the rounding of copied numbers") {
  auto json = nlohmann::ordered_json::parse(minimal);
  // Rank one, entries rounded to six digits: slightly indefinite and slightly asymmetric.
  json["fit"]["log_covariance"] = {{0.01, 0.0199999, 0, 0}, {0.02, 0.04, 0, 0}, {0, 0, 0, 0}, {0, 0, 0, 0}};
  const auto record = parse_record(json.dump(), "");
  REQUIRE(record);
  const auto& c = *record->fit->log_covariance;
  CHECK(c[0][1] == c[1][0]);
  json["fit"]["log_covariance"][0][0] = 1e9;
  CHECK_FALSE(parse_record(json.dump(), ""));
}

TEST_CASE("reading a file fails as a value") {
  const auto absent = read_record("no/such/record.json");
  REQUIRE_FALSE(absent);
  CHECK(absent.error().kind == ErrorKind::not_found);
  const auto folder = read_record(formats);
  REQUIRE_FALSE(folder);
  CHECK(folder.error().kind == ErrorKind::unreadable);
  const auto deep = parse_record(std::string(1'000'000, '['), "deep.json");
  REQUIRE_FALSE(deep);
  CHECK(deep.error().kind == ErrorKind::limit);
  for (const char* text :
       {"", "nonsense", "{\"format\": \"resin-record\", \"version\": 1e999}", "\xff\xfe", "null", "3"}) {
    CHECK_FALSE(parse_record(text, "bad.json"));
  }
  CHECK(parse_record(std::string("\xEF\xBB\xBF") + minimal, ""));  // a byte order mark does no harm
}

TEST_CASE("saving replaces the file, and leaves it alone where it cannot") {
  const fs::path folder = fs::temp_directory_path() / ("hairline-record-test-" + std::to_string(::getpid()));
  fs::remove_all(folder);
  fs::create_directories(folder);
  const auto record = parse_record(minimal, "");
  REQUIRE(record);
  const fs::path path = folder / "one.json";
  REQUIRE(save_record(*record, path));
  CHECK(text_of(path) == write_record(*record));
  const auto lost = save_record(*record, folder / "no such folder" / "two.json");
  REQUIRE_FALSE(lost);
  CHECK(lost.error().kind == ErrorKind::unwritable);
  CHECK(std::distance(fs::directory_iterator(folder), fs::directory_iterator()) == 1);  // nothing half-written
  fs::remove_all(folder);
}

TEST_CASE("dates are days of the Gregorian calendar") {
  CHECK(*day_number("2000-03-01") - *day_number("2000-02-28") == 2);  // leap year by the 400 rule
  CHECK(*day_number("1900-03-01") - *day_number("1900-02-28") == 1);
  CHECK(*day_number("2027-01-01") - *day_number("2026-01-01") == 365);
  CHECK(*day_number("2026-11-25T09:15:00") == *day_number("2026-11-25"));
  // 2026-11-25 is 20 782 days after 1970-01-01 (POSIX time 1795564800 / 86400).
  CHECK(*day_number("2026-11-25") - *day_number("1970-01-01") == 20782);
  for (const char* text :
       {"", "2026-13-01", "2026-02-29", "2026-1-1", "yesterday", "2026/11/25", "2026-11-25x", "2026--1-25"}) {
    CHECK_FALSE(day_number(text));
  }
}

TEST_CASE("age counts from the conditions' date, else from the fit") {
  auto record = *parse_record(minimal, "");
  CHECK_FALSE(age_days(record, "2026-11-25"));
  record.fitted_at = "2026-11-20";
  CHECK(*age_days(record, "2026-11-25") == 5);
  record.conditions.date = "2026-10-25";
  CHECK(*age_days(record, "2026-11-25") == 31);
  CHECK(*age_days(record, "2026-10-20") == -5);
  CHECK_FALSE(age_days(record, "today"));
}
