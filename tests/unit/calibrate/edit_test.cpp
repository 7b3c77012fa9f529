#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <thread>

#include "hairline/record_edit.hpp"

using namespace hairline;
namespace fs = std::filesystem;

namespace {

ResinRecord fresh() {
  ResinRecord facts;
  facts.resin.label = "harbour grey";
  facts.printer.pitch_mm = 0.05;
  return *new_record(facts, "2026-11-01");
}

BracketReading reading_at(double t) {
  BracketReading reading;
  reading.exposure_s = t;
  return reading;
}

BracketReading wall(double t, double size) {
  auto reading = reading_at(t);
  reading.thinnest_wall_mm = size;
  return reading;
}

struct Folder {
  fs::path path = fs::temp_directory_path() / ("hairline-records-test-" + std::to_string(::getpid()));
  Folder() { fs::remove_all(path), fs::create_directories(path); }
  ~Folder() { fs::remove_all(path); }
  void write(const std::string& name, const std::string& text) const { std::ofstream(path / name) << text; }
  void record(const std::string& name, const std::string& resin, const std::string& printer) const {
    write(name, R"({"format": "resin-record", "version": 1, "resin": {"label": ")" + resin +
                    R"("}, "printer": {"label": ")" + printer + R"("}})");
  }
};

}  // namespace

TEST_CASE("a new record holds its facts, today's date and nothing else") {
  const ResinRecord record = fresh();
  CHECK(record.conditions.date == "2026-11-01");
  CHECK(record.resin.label == "harbour grey");
  CHECK(record.bracket.empty());
  const auto back = parse_record(write_record(record), "");
  REQUIRE(back);
  CHECK(*back->printer.pitch_mm == 0.05);
  ResinRecord wrong;
  wrong.printer.pitch_mm = -1;
  const auto refused = new_record(wrong, "2026-11-01");
  REQUIRE_FALSE(refused);
  CHECK(refused.error().found == "printer.pitch_mm is -1.0");
}

TEST_CASE("bad readings are refused and leave the record unchanged") {
  ResinRecord record = fresh();
  REQUIRE(add_reading(record, wall(2.3, 0.12), "2026-11-01"));
  const std::string before = write_record(record);
  const auto refuses = [&](const BracketReading& reading, const std::string& words) {
    const auto added = add_reading(record, reading, "2026-11-01");
    REQUIRE_FALSE(added);
    CHECK_THAT(to_paragraph(added.error()), Catch::Contains(words));
    CHECK(write_record(record) == before);
  };
  refuses(wall(2.5, -0.1), "thinnest_wall_mm is -0.1");
  refuses(wall(2.5, 5.01), "thinnest_wall_mm is 5.01; expected a number over 0 and up to 5 mm");
  refuses(wall(-2.5, 0.1), "exposure_s is -2.5");
  refuses(reading_at(2.5), "says nothing");
  refuses(wall(2.3, 0.3), "two readings of the thinnest wall at 2.3 s contradict each other: 0.12 mm and 0.3 mm");
  refuses(wall(2.6, 0.3), "thinnest wall gets thicker with more time");
  auto dated = wall(2.5, 0.1);
  dated.date = "last night";
  refuses(dated, "date is \"last night\"");
}

TEST_CASE("readings of one coupon may come one by one") {
  ResinRecord record = fresh();
  CHECK(*add_reading(record, wall(2.5, 0.08), "2026-11-01") == Added::added);
  auto slot = reading_at(2.5);
  slot.narrowest_slot_mm = 0.11;
  CHECK(*add_reading(record, slot, "2026-11-01") == Added::merged);
  auto look = reading_at(2.5);
  look.look = Look::crisp;
  CHECK(*add_reading(record, look, "2026-11-02") == Added::merged);
  REQUIRE(record.bracket.size() == 1);
  CHECK(*record.bracket[0].thinnest_wall_mm == 0.08);
  CHECK(*record.bracket[0].narrowest_slot_mm == 0.11);
  CHECK(record.bracket[0].look == Look::crisp);
  // A second coupon of the same time that agrees is a reading of its own; the very same reading is not counted twice.
  CHECK(*add_reading(record, wall(2.5, 0.085), "2026-11-03") == Added::added);
  CHECK(*add_reading(record, wall(2.5, 0.085), "2026-11-03") == Added::already_there);
  CHECK(record.bracket.size() == 2);
}

TEST_CASE("a replaced reading is kept beside the new one") {
  ResinRecord record = fresh();
  REQUIRE(add_reading(record, wall(2.5, 0.18), "2026-11-01"));
  record.bracket[0].source = R"({"photo": "blurred.jpg"})";
  CHECK(*add_reading(record, wall(2.5, 0.08), "2026-11-04", IfThere::replace) == Added::replaced);
  REQUIRE(record.bracket.size() == 1);
  CHECK(*record.bracket[0].thinnest_wall_mm == 0.08);
  const auto back = parse_record(write_record(record), "");
  REQUIRE(back);
  REQUIRE(back->superseded.size() == 1);
  CHECK(back->superseded[0].kind == "bracket");
  CHECK(back->superseded[0].replaced_on == "2026-11-04");
  CHECK_THAT(back->superseded[0].reading, Catch::Contains(R"("thinnest_wall_mm":0.18)"));
  CHECK_THAT(back->superseded[0].reading, Catch::Contains(R"("photo":"blurred.jpg")"));
  // And it stays there through the next edit.
  ResinRecord later = *back;
  REQUIRE(add_reading(later, wall(2.5, 0.09), "2026-11-05", IfThere::replace));
  CHECK(parse_record(write_record(later), "")->superseded.size() == 2);
}

TEST_CASE("what a new reading does not say of its coupon stays") {
  ResinRecord record = fresh();
  auto whole = wall(2.5, 0.18);
  whole.narrowest_slot_mm = 0.11;
  whole.look = Look::crisp;
  REQUIRE(add_reading(record, whole, "2026-11-01"));
  REQUIRE(add_reading(record, wall(2.7, 0.07), "2026-11-01"));
  CHECK(kept_beside(record, wall(2.5, 0.08)) == "--slot 0.11, --look crisp");
  CHECK(kept_beside(record, wall(2.9, 0.08)).empty());
  CHECK(*add_reading(record, wall(2.5, 0.08), "2026-11-04", IfThere::replace) == Added::replaced);
  REQUIRE(record.bracket.size() == 2);
  CHECK(*record.bracket[0].thinnest_wall_mm == 0.08);
  CHECK(*record.bracket[0].narrowest_slot_mm == 0.11);
  CHECK(record.bracket[0].look == Look::crisp);
  REQUIRE(record.superseded.size() == 1);
  CHECK_THAT(record.superseded[0].reading, Catch::Contains("0.18"));
}

TEST_CASE("cure depths and bases are readings too") {
  ResinRecord record = fresh();
  CHECK(*add_reading(record, CureDepthReading{5, 0.31, "", {}}, "2026-11-01") == Added::added);
  CHECK_FALSE(add_reading(record, CureDepthReading{5, -0.31, "", {}}, "2026-11-01"));
  CHECK_FALSE(
      add_reading(record, CureDepthReading{5, 0.9, "", {}}, "2026-11-01"));  // contradicts 0.31 at the same time
  CHECK(*add_reading(record, BaseReading{30, 5, BaseResult::held, "", {}}, "2026-11-01") == Added::added);
  CHECK(*add_reading(record, BaseReading{20, 5, BaseResult::lifted, "", {}}, "2026-11-01") == Added::added);
  CHECK_FALSE(add_reading(record, BaseReading{20, 5, BaseResult::welded, "", {}}, "2026-11-01"));
  CHECK(record.base.size() == 2);
}

TEST_CASE("readings come from a CSV file") {
  const auto readings = parse_readings_csv(
      "# read on Sunday\r\n"
      "exposure_s,thinnest_wall_mm,narrowest_slot_mm,look,reading_error_mm,depth_mm,base_s,layers,result\r\n"
      "2.3,0.12,0.09,under,0.01\r\n"
      "\r\n"
      "2.5,,,crisp\r\n"
      "5.0,,,,,0.31\r\n"
      ",,,,,,30,5,held\r\n",
      "sunday.csv");
  REQUIRE(readings);
  REQUIRE(readings->size() == 4);
  ResinRecord record = fresh();
  CHECK(*add_readings(record, *readings, "2026-11-01") == 4);
  CHECK(record.bracket.size() == 2);
  CHECK(*record.bracket[0].reading_error_mm == 0.01);
  CHECK(record.bracket[1].look == Look::crisp);
  CHECK(record.cure_depth[0].depth_mm == 0.31);
  CHECK(record.base[0].layers == 5);
  CHECK(*add_readings(record, *readings, "2026-11-01") == 0);  // read in twice: counted once
  CHECK(record.bracket.size() == 2);
}

TEST_CASE("a decimal comma is understood with semicolons") {
  const auto readings = parse_readings_csv("exposure_s;thinnest_wall_mm\n2,5;0,08\n", "");
  REQUIRE(readings);
  CHECK(std::get<BracketReading>((*readings)[0]).exposure_s == 2.5);
  CHECK(*std::get<BracketReading>((*readings)[0]).thinnest_wall_mm == 0.08);
}

TEST_CASE("a bad CSV line is named and nothing is added") {
  const auto refuses = [](const std::string& text, const std::string& words) {
    const auto readings = parse_readings_csv(text, "bad.csv");
    REQUIRE_FALSE(readings);
    CHECK_THAT(to_paragraph(readings.error()), Catch::Contains(words));
    CHECK(readings.error().file == "bad.csv");
  };
  refuses("exposure_s,thinnest_wall_mm\n2.3,0.1\n2.5,thin\n", "line 3: thinnest_wall_mm is \"thin\"");
  refuses("exposure_s,thinnest_wall_mm\n2.3,-0.1\n", "line 2: thinnest_wall_mm is -0.1");
  refuses("exposure_s,thinnest_wall_mm\n2.3,7\n", "line 2: thinnest_wall_mm is 7");
  refuses("exposure_s,look\n2.3,fine\n", "line 2: look is \"fine\"");
  refuses("exposure_s,wall\n2.3,0.1\n", "line 1: the header names a column \"wall\"");
  refuses("exposure_s,look,look\n2.3,crisp,crisp\n", "names \"look\" twice");
  refuses("look\ncrisp\n", "line 2: no exposure_s");
  refuses("exposure_s,look\n2.3,crisp,extra\n", "line 2: 3 cells");
  refuses("exposure_s,look\n", "no reading");
  refuses("", "no reading");
  refuses("exposure_s,thinnest_wall_mm\nnan,0.1\n", "line 2: exposure_s is \"nan\"");

  ResinRecord record = fresh();
  const std::string before = write_record(record);
  const auto contradicting = parse_readings_csv("exposure_s,thinnest_wall_mm\n2.5,0.08\n2.5,0.3\n", "two.csv");
  REQUIRE(contradicting);
  CHECK_FALSE(add_readings(record, *contradicting, "2026-11-01"));
  CHECK(write_record(record) == before);
}

TEST_CASE("thousands of lines are taken as one batch, and more than a record holds are refused") {
  const auto table = [](std::size_t lines) {
    std::string text =
        "\xEF\xBB\xBF"
        "exposure_s,thinnest_wall_mm,narrowest_slot_mm\r\n";
    for (std::size_t i = 0; i < lines; ++i)
      text += fmt::format("{},{},{}\r\n", 2 + 1e-4 * double(i), 0.3 - 1e-5 * double(i), 0.1 + 1e-5 * double(i));
    return text;
  };
  const auto readings = parse_readings_csv(table(most_readings), "");
  REQUIRE(readings);
  ResinRecord record = fresh();
  CHECK(*add_readings(record, *readings, "2026-11-01") == most_readings);
  CHECK(*add_readings(record, *readings, "2026-11-02") == 0);
  REQUIRE(parse_record(write_record(record), ""));
  const auto one_more = add_reading(record, wall(3, 0.2), "2026-11-02");
  REQUIRE_FALSE(one_more);
  CHECK(one_more.error().kind == ErrorKind::limit);
  CHECK(one_more.error().found == "5001 readings in one record");

  const auto too_many = parse_readings_csv(table(most_readings + 1), "big.csv");
  REQUIRE_FALSE(too_many);
  CHECK(too_many.error().kind == ErrorKind::limit);
  CHECK(too_many.error().found == "line 5002: more than 5000 readings");
  record.bracket.push_back(wall(3, 0.2));
  const auto read = parse_record(write_record(record), "big.json");
  REQUIRE_FALSE(read);
  CHECK(read.error().kind == ErrorKind::limit);
}

TEST_CASE("a contradiction anywhere in a batch refuses all of it") {
  const auto readings = parse_readings_csv("exposure_s,thinnest_wall_mm\n2.5,0.08\n2.9,0.07\n3.1,0.4\n3.3,0.06\n", "");
  REQUIRE(readings);
  ResinRecord record = fresh();
  const auto added = add_readings(record, *readings, "2026-11-01");
  REQUIRE_FALSE(added);
  CHECK(added.error().found == "the thinnest wall gets thicker with more time: 0.08 mm at 2.5 s, but 0.4 mm at 3.1 s");
  CHECK(record.bracket.empty());
}

TEST_CASE("a batch replaces what was there, not itself") {
  ResinRecord record = fresh();
  REQUIRE(add_reading(record, wall(2.5, 0.3), "2026-11-01"));
  const auto readings = parse_readings_csv("exposure_s,thinnest_wall_mm\n2.5,0.08\n2.5,0.085\n", "");
  REQUIRE(readings);
  CHECK(*add_readings(record, *readings, "2026-11-02", IfThere::replace) == 2);
  CHECK(record.bracket.size() == 2);
  CHECK(record.superseded.size() == 1);
}

TEST_CASE("of several runs that make one record one does, and the others are refused") {
  const Folder folder;
  const fs::path path = folder.path / "new.json";
  std::vector<int> made(6);
  {
    std::vector<std::jthread> runs;
    for (int& mine : made) runs.emplace_back([&] { mine = add_record(fresh(), path).has_value(); });
  }
  CHECK(std::count(made.begin(), made.end(), 1) == 1);
  const auto refused = add_record(fresh(), path);
  REQUIRE_FALSE(refused);
  CHECK(refused.error().kind == ErrorKind::usage);
  ResinRecord other = fresh();
  other.resin.label = "signal red";
  REQUIRE(add_record(other, path, true));
  CHECK(read_record(path)->resin.label == "signal red");
}

TEST_CASE("a folder of records lists what it holds, in natural order") {
  const Folder folder;
  folder.record("grey 10.json", "harbour grey", "workshop left");
  folder.record("grey 2.json", "harbour grey", "workshop right");
  folder.write("manifest.json", R"({"format": "layer-archive"})");
  folder.write("torn.json", R"({"format": "resin-record", "version": 1,)");
  folder.write("notes.txt", "resin-record");
  const auto found = find_records(folder.path);
  REQUIRE(found);
  REQUIRE(found->size() == 3);
  CHECK(fs::path((*found)[0].file).filename() == "grey 2.json");
  CHECK(fs::path((*found)[1].file).filename() == "grey 10.json");
  CHECK((*found)[2].problem);
  CHECK_FALSE(find_records(folder.path / "nowhere"));
}

TEST_CASE("the record whose resin and printer are the job's is picked") {
  const Folder folder;
  folder.record("a.json", "harbour grey", "workshop left");
  folder.record("b.json", "harbour grey", "workshop right");
  folder.record("c.json", "lantern clear", "");
  const auto picked = [&](const std::string& asked, const std::string& resin, const std::string& printer) {
    const auto record = pick_record(asked, folder.path, *find_records(folder.path), resin, printer);
    return record ? fs::path(record->file).filename().string() : to_paragraph(record.error());
  };
  CHECK(picked("", "harbour grey", "workshop right") == "b.json");
  CHECK(picked("", " Harbour Grey ", "WORKSHOP LEFT") == "a.json");
  CHECK(picked("", "lantern clear", "workshop left") == "c.json");
  CHECK(picked("lantern clear", "", "") == "c.json");
  CHECK(picked("harbour grey", "", "workshop right") == "b.json");
  CHECK(picked("b", "", "") == "b.json");
  CHECK_THAT(picked("", "harbour grey", ""),
             Catch::Contains("2 records for resin \"harbour grey\"") &&
                 Catch::Contains("a.json (resin \"harbour grey\", printer \"workshop left\""));
  CHECK_THAT(picked("", "signal red", "workshop left"),
             Catch::Contains("no record for resin \"signal red\"") && Catch::Contains("c.json"));
  CHECK_THAT(picked("signal red", "", ""), Catch::Contains("no file and no record called \"signal red\""));
}

TEST_CASE("of several records of one resin and printer the newest with a fit is picked, and says so") {
  const Folder folder;
  const auto write = [&](const std::string& name, const std::string& printer, const std::string& facts) {
    folder.write(name, R"({"format": "resin-record", "version": 1, "resin": {"label": "harbour grey"}, )"
                       R"("printer": {"label": ")" +
                           printer + "\"}" + facts + "}");
  };
  const auto fitted = [](const std::string& more) {
    return R"(, "fit": {"bond_time_s": 1.6, "fuse_time_s": 0.55, "blur_mm": 0.04, "penetration_depth_mm": 0.16)" +
           more + "}";
  };
  const auto dated = [](const std::string& date) { return R"(, "conditions": {"date": ")" + date + "\"}"; };
  write("a.json", "quay", dated("2026-10-01") + fitted(""));
  write("b.json", "Quay ", fitted(R"(, "fitted_at": "2026-10-20T09:30")"));
  write("c.json", "quay", fitted(""));
  write("d.json", "quay", dated("2026-10-21"));  // the newest of all, but not fitted yet
  auto picked = pick_record("", folder.path, *find_records(folder.path), "harbour grey", "quay");
  REQUIRE(picked);
  CHECK(fs::path(picked->file).filename() == "b.json");
  REQUIRE(picked->remarks.size() == 2);
  CHECK(
      picked->remarks[0] ==
      "Of the 3 records of this resin and printer this is the newest (2026-10-20); older: a.json (2026-10-01), c.json "
      "(no date).");
  CHECK(picked->remarks[1] == "Left aside, because without a fit: d.json (2026-10-21).");
  CHECK(fs::path(pick_record("harbour grey", folder.path, *find_records(folder.path), "", "")->file).filename() ==
        "b.json");
  CHECK(pick_record("a", folder.path, *find_records(folder.path), "", "")->remarks.empty());
  // Equally new: the person has to say which.
  write("e.json", "quay", dated("2026-10-20") + fitted(""));
  picked = pick_record("", folder.path, *find_records(folder.path), "harbour grey", "quay");
  REQUIRE_FALSE(picked);
  CHECK(picked.error().kind == ErrorKind::mismatch);
  CHECK_THAT(picked.error().expected, Catch::Contains("b.json") && Catch::Contains("e.json"));
  // A newer one settles it; one of another printer does not count, unless the job leaves the printer open.
  write("f.json", "quay", dated("2026-11-01") + fitted(""));
  write("g.json", "slip", dated("2026-11-05") + fitted(""));
  CHECK(fs::path(pick_record("", folder.path, *find_records(folder.path), "harbour grey", "quay")->file).filename() ==
        "f.json");
  CHECK(pick_record("", folder.path, *find_records(folder.path), "harbour grey", "").error().kind ==
        ErrorKind::mismatch);
}

TEST_CASE("records without a resin label are not taken for one resin") {
  const Folder folder;
  for (const char* month : {"10", "11"})
    folder.write(
        std::string(month) + ".json",
        R"({"format": "resin-record", "version": 1, "conditions": {"date": "2026-)" + std::string(month) + R"(-01"}})");
  CHECK(pick_record("", folder.path, *find_records(folder.path), "harbour grey", "").error().kind ==
        ErrorKind::mismatch);
}

TEST_CASE("the last use of a record is noted once a day, by its full path, and damage is passed over") {
  const Folder folder;
  const fs::path uses = folder.path / "state" / "hairline" / "records-used";
  folder.record("a.json", "harbour grey", "");
  CHECK(last_use(read_uses(uses), folder.path / "a.json").empty());
  note_use(uses, folder.path / "a.json", "2026-11-01");
  note_use(uses, folder.path / "a.json", "2026-11-01");
  note_use(uses, folder.path / "b.json", "2026-11-02");
  const auto size = fs::file_size(uses);
  CHECK(read_uses(uses).size() == 2);
  std::ofstream(uses, std::ios::app) << "torn\n2026-11-03\n9999-99-99\t/a\n\n";
  note_use(uses, folder.path / "." / "a.json", "2026-11-04");
  CHECK(read_uses(uses).size() == 2);
  CHECK(last_use(read_uses(uses), folder.path / "a.json") == "2026-11-04");
  CHECK(last_use(read_uses(uses), folder.path / "b.json") == "2026-11-02");
  CHECK(size == 2 * (11 + (folder.path / "a.json").string().size() + 1));
  // Where nothing can be written nothing happens.
  note_use("", folder.path / "a.json", "2026-11-05");
  note_use(folder.path / "a.json" / "uses", folder.path / "a.json", "2026-11-05");
  note_use(folder.path, folder.path / "a.json", "2026-11-05");
  CHECK(read_uses("").empty());
  CHECK(read_uses(folder.path).empty());
}

TEST_CASE("a folder without any record says so and how to come by one") {
  const Folder folder;
  folder.write("manifest.json", R"({"format": "layer-archive"})");
  for (const char* asked : {"", "harbour grey"}) {
    const auto record = pick_record(asked, folder.path, *find_records(folder.path), "harbour grey", "");
    REQUIRE_FALSE(record);
    CHECK(record.error().kind == ErrorKind::not_found);
    CHECK(record.error().found == "the folder holds no resin record");
    CHECK_THAT(record.error().advice, Catch::Contains("hairline record new") && Catch::Contains("--record"));
  }
}
