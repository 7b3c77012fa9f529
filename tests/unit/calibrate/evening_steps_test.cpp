// The steps of an evening that ask nothing and print nothing.
#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>

#include "calibrate/reading_fields.hpp"

using namespace hairline;
namespace fs = std::filesystem;

TEST_CASE("a record's file is named by its resin") {
  CHECK(record_file_name("Harbour grey") == "harbour-grey.json");
  CHECK(record_file_name("  No. 7 / b\xC3\xBCro ") == "no-7-b-ro.json");
  CHECK(record_file_name("../../up") == "up.json");
  CHECK(record_file_name("") == "record.json");
  CHECK(record_file_name("\xE7\x81\xAF") == "record.json");
}

TEST_CASE("answers beyond what is known keep their exposure, and are none without another") {
  const Cells known = {{"exposure_s", "2.4"}, {"look", "crisp"}};
  CHECK(answers_beyond(known, {{"exposure_s", "2.4"}, {"look", "over"}, {"thinnest_wall_mm", "0.1"}}) ==
        Cells{{"exposure_s", "2.4"}, {"thinnest_wall_mm", "0.1"}});
  CHECK(answers_beyond(known, known).empty());
  CHECK(answers_beyond({}, {{"exposure_s", "2.4"}}).empty());
}

TEST_CASE("an answer that does not fit is told what would; looks with what they mean") {
  const ResinRecord record;
  const auto rule = [](std::string_view key) {
    for (const FieldRule& one : asked_rules())
      if (key == one.key) return one;
    FAIL(key);
    return FieldRule{};
  };
  CHECK(answer_misfit(rule("thinnest_wall_mm"), "", record).empty());
  CHECK(answer_misfit(rule("thinnest_wall_mm"), "80 um", record).empty());
  CHECK(answer_misfit(rule("thinnest_wall_mm"), "9", record) ==
        "\"9\" does not fit; expected a number over 0 and up to 5 mm");
  // A slip of the decimal point, and the answer to another line.
  CHECK(answer_misfit(rule("block_mm.printed"), "5.06", record).empty());
  CHECK(answer_misfit(rule("block_mm.printed"), "50.6", record) ==
        "the block printed 50.6 mm wide where 5 mm were drawn; expected a width within 1 mm of the drawn one");
  CHECK(answer_misfit(rule("slot_mm.printed"), "1.95", record).empty());
  CHECK_FALSE(answer_misfit(rule("slot_mm.printed"), "5.05", record).empty());
  CHECK(answer_misfit(rule("look"), "nice", record).find("\ncrisp          sharp; walls") != std::string::npos);
}

TEST_CASE("a width far from the drawn one is refused wherever it comes from") {
  ResinRecord record;
  BracketReading reading;
  reading.exposure_s = 2.4;
  reading.slot_mm = {40, 39.95};
  record.bracket = {reading};
  CHECK(fit_record(record));
  record.bracket[0].slot_mm = {2, 19.5};
  const auto fit = fit_record(record);
  REQUIRE_FALSE(fit);
  CHECK(fit.error().found.find("the wide slot printed 19.5 mm wide where 2 mm were drawn") != std::string::npos);
}

TEST_CASE("readings are taken into a record's file, all or none") {
  const fs::path folder = fs::temp_directory_path() / ("hairline-taken-" + std::to_string(::getpid()));
  fs::remove_all(folder);
  fs::create_directories(folder);
  const fs::path file = folder / "harbour-grey.json";
  ResinRecord facts;
  facts.resin.label = "harbour grey";
  REQUIRE(add_record(new_record(facts, "2026-11-01").value(), file));
  BracketReading reading;
  reading.exposure_s = 2.4;
  reading.thinnest_wall_mm = 0.1;
  reading.look = Look::crisp;
  CHECK(take_readings(file, {reading}, "2026-11-02", IfThere::keep)->changed == 1);
  reading.look.reset();
  reading.thinnest_wall_mm = 0.12;
  const auto replaced = take_readings(file, {reading}, "2026-11-03", IfThere::replace);
  REQUIRE(replaced);
  CHECK(replaced->kept == std::vector<std::string>{"Kept of the coupon at 2.4 s: --look crisp."});
  CHECK(replaced->edited.record.bracket.size() == 1);
  reading.exposure_s = -1;
  BracketReading good = reading;
  good.exposure_s = 3;
  CHECK_FALSE(take_readings(file, {good, reading}, "2026-11-03", IfThere::keep));
  CHECK(read_record(file)->bracket.size() == 1);
  fs::remove_all(folder);
}
