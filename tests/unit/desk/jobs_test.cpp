// Jobs on the desk without a network: what is asked of its handlers, and what they leave in the folder.
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <thread>

#include "desk/asks.hpp"
#include "desk/checks.hpp"
#include "hairline/page.hpp"
#include "unit/desk/handlers.hpp"
#include "unit/queue/night_support.hpp"

using namespace hairline;
using namespace hairline::desk;
using hairline::test::Workshop;
namespace fs = std::filesystem;

namespace {

constexpr const char* day = "2026-11-07";

// A workshop with one sound job and its record.
struct Stocked : Workshop {
  Stocked() {
    test::write_job(path / "buoy.zip", {.title = "Buoy"});
    REQUIRE(save_record(test::small_record(), path / "grey.json"));
  }
};

struct Setup : Stocked, test::Handlers {
  Setup() : Handlers(path, {add_job_routes}) {}

  Answer about(const std::string& pattern, const std::string& name, const std::string& body = {}) const {
    return ask(pattern, {.names = {name}, .query = {}, .body = body, .read_body = {}});
  }
  Json job(const std::string& name) const { return Json::parse(about("GET /api/jobs/{}", name).body); }
  Json check(const std::string& body) const {
    const Answer begun = about("POST /api/jobs/{}/check", "buoy.zip", body);
    INFO(begun.body);
    REQUIRE(begun.status == 200);
    return ended_check();
  }
  std::set<std::string> files() const {
    std::set<std::string> names;
    for (const auto& entry : fs::recursive_directory_iterator(path))
      if (entry.path().string().find("reports.sqlite") == std::string::npos) names.insert(entry.path().string());
    return names;
  }
};

// A body in these parts; it ends early where `whole` is false.
Call upload(const std::string& name, const std::vector<std::string>& parts, bool whole = true) {
  return {.names = {}, .query = {{"name", name}}, .body = {}, .read_body = [parts, whole](const TextSink& sink) {
            for (const std::string& part : parts)
              if (!sink(part)) return false;
            return whole;
          }};
}

std::string text_in(const fs::path& file) {
  return read_text(file).value_or("");
}

// Masks of another program's archive that states nothing.
void write_foreign(const fs::path& folder) {
  fs::create_directory(folder);
  std::vector<std::uint8_t> block(40 * 30, 0);
  for (std::uint32_t row = 5; row < 25; ++row)
    for (std::uint32_t col = 5; col < 30; ++col) block[row * 40 + col] = 255;
  const auto png = encode_png(encode(block, {40, 30}));
  for (int n = 1; n <= 3; ++n) {
    std::ofstream file(folder / ("slice" + std::to_string(n) + ".png"), std::ios::binary);
    file.write(reinterpret_cast<const char*>(png.data()), static_cast<std::streamsize>(png.size()));
  }
}

}  // namespace

TEST_CASE("names that are none of the folder's own are refused and leave nothing") {
  const Setup desk;
  const auto before = desk.files();
  for (const char* name : {"../buoy.zip", "desk", "..", "/etc/passwd", "grey.json", "nothing.zip", "buoy.zip\n"}) {
    INFO(name);
    for (const char* pattern : {"GET /api/jobs/{}", "GET /api/jobs/{}/asks", "GET /api/jobs/{}/page",
                                "GET /api/jobs/{}/report.json", "GET /api/jobs/{}/thumbnail.png"})
      CHECK(desk.about(pattern, name).status == 404);
    CHECK(desk.about("POST /api/jobs/{}/check", name, "{}").status == 404);
    CHECK(desk.about("POST /api/jobs/{}/asks", name, R"({"keep": true})").status == 404);
  }
  CHECK(desk.about("POST /api/jobs/{}/check", "buoy.zip", R"({"record": "../grey.json"})").status == 404);
  for (const auto& made : desk.files()) CHECK((before.contains(made) || fs::is_directory(made)));
}

TEST_CASE("a check on the desk is the check of the library, byte for byte") {
  const Setup desk;
  CHECK(desk.job("buoy.zip").at("fitting") == "grey.json");
  CHECK(desk.job("buoy.zip").at("last").is_null());
  CHECK(desk.about("GET /api/jobs/{}/page", "buoy.zip").status == 404);
  CHECK(desk.check(R"({"record": "grey.json"})").at("stage") == "done");

  const auto records = read_records({.record = desk / "grey.json", .records = {}});
  CheckRequest request{.job = desk / "buoy.zip", .open = {}, .records = &*records, .settings = {}};
  request.settings.tonight.today = day;
  Progress progress;
  Pictures pictures;
  const auto report = check_job(request, progress, &pictures);
  REQUIRE(report);
  CHECK(desk.about("GET /api/jobs/{}/report.json", "buoy.zip").body == to_json(*report));
  CHECK(desk.about("GET /api/jobs/{}/page", "buoy.zip").body == show_html({*report, &pictures}));
  const Json last = desk.job("buoy.zip").at("last");
  CHECK(last.at("verdict") == to_string(report->verdict));
  CHECK(last.at("now").at("text") == lost_text(report->suggestion->now));
  CHECK(last.at("exposure_s") == report->exposure_s);
  CHECK(last.at("changed").empty());
}

TEST_CASE("a check at another time keeps what the one before said, and only its own files") {
  const Setup desk;
  desk.check(R"({"record": "grey.json"})");
  CHECK(desk.check(R"({"record": "grey.json", "exposure": "2,7 s"})").at("exposure_s") == 2.7);
  const Json last = desk.job("buoy.zip").at("last");
  CHECK(last.at("exposure_s") == 2.7);
  CHECK(last.at("before").at("exposure_s") == 2.5);
  std::size_t pages = 0;
  for (const std::string& name : desk.files()) pages += name.ends_with(".page.html") ? 1 : 0;
  CHECK(pages == 1);
  for (const char* time : {"0", "-1", "4000", "soon", "nan"}) {
    INFO(time);
    const Answer refused =
        desk.about("POST /api/jobs/{}/check", "buoy.zip", Json{{"record", "grey.json"}, {"exposure", time}}.dump());
    CHECK(Json::parse(refused.body).contains("refused"));
    CHECK(refused.body.find(time) != std::string::npos);
  }
}

TEST_CASE("it is seen when the job or its record has changed since the check") {
  const Setup desk;
  desk.check(R"({"record": "grey.json"})");
  REQUIRE(save_record(test::small_record(1.7), desk / "grey.json"));
  CHECK(desk.job("buoy.zip").at("last").at("changed") == Json{"record"});
  test::write_job(desk / "buoy.zip", {.normal_s = 2.75, .title = "Another buoy"});
  CHECK(desk.job("buoy.zip").at("last").at("changed") == Json{"job", "record"});
  CHECK(desk.job("buoy.zip").at("title") == "Another buoy");
}

TEST_CASE("a damaged memory of a check is as if there were none") {
  const Setup desk;
  desk.check(R"({"record": "grey.json"})");
  const fs::path file = desk.path / "desk/checks/buoy.zip.json";
  const std::string sound = text_in(file);
  REQUIRE(!desk.job("buoy.zip").at("last").is_null());
  std::vector<std::string> damaged = {"", "{", "[]", "null", sound.substr(0, sound.size() / 2)};
  for (const auto& [from, to] : {std::pair{"\"hold\"", "\"fine\""},
                                 {"\"clear\"", "\"fine\""},
                                 {"\"id\":\"", "\"id\":\"../"},
                                 {"\"duration_s\":", "\"duration_s\":\"long\",\"was\":"}}) {
    std::string text = sound;
    if (const auto at = text.find(from); at != std::string::npos)
      damaged.push_back(text.replace(at, std::string(from).size(), to));
  }
  CHECK(damaged.size() >= 7);
  for (const std::string& text : damaged) {
    INFO(text);
    REQUIRE(write_text(file, text));
    CHECK(desk.job("buoy.zip").at("last").is_null());
    CHECK(desk.about("GET /api/jobs/{}/page", "buoy.zip").status == 404);
  }
}

TEST_CASE("a job that cannot be read is listed with its error, and a check of it ends with that error") {
  const Setup desk;
  REQUIRE(write_text(desk / "buoy.zip", std::string_view("no archive")));
  const Json job = desk.job("buoy.zip");
  CHECK(job.at("error").get<std::string>().find("buoy.zip") != std::string::npos);
  CHECK(job.at("asks") == false);
  const Json check = desk.check(R"({"record": "grey.json"})");
  CHECK(check.at("stage") == "failed");
  CHECK(!check.at("error").get<std::string>().empty());
}

TEST_CASE("a job whose name is long, or holds signs of addresses, is checked; one whose name is no text is said") {
  const Setup desk;
  const std::string name = std::string(240, 'q') + "?#%&.zip";
  fs::rename(desk / "buoy.zip", desk / name);
  REQUIRE(desk.about("POST /api/jobs/{}/check", name, R"({"record": "grey.json"})").status == 200);
  for (int i = 0; i < 3000 && desk.job(name).at("checks")[0].at("stage") != "done"; ++i)
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  CHECK(desk.job(name).at("last").at("title") == "Buoy");
  fs::rename(desk / name, desk / "bad\xff.zip");
  const Json jobs = Json::parse(desk.ask("GET /api/jobs").body);
  CHECK(jobs.at("jobs")[0].at("error").get<std::string>().find("Rename it") != std::string::npos);
}

TEST_CASE("a check that is cancelled keeps nothing, and going away cancels what waits") {
  Setup desk;
  for (const char* time : {"2.1", "2.2", "2.3", "2.4"})
    CHECK(desk.about("POST /api/jobs/{}/check", "buoy.zip", Json{{"record", "grey.json"}, {"exposure", time}}.dump())
              .status == 200);
  const auto same = [&] {
    return Json::parse(
        desk.about("POST /api/jobs/{}/check", "buoy.zip", R"({"record": "grey.json", "exposure": "2.4"})").body);
  };
  const Json fourth = same();
  CHECK(fourth.contains("number"));
  const Answer cancelled = desk.about("POST /api/checks/{}/cancel", "4");
  CHECK((cancelled.status == 200 || fourth.at("number") == 5));  // unless it had ended by then
  CHECK(desk.about("POST /api/checks/{}/cancel", "77").status == 404);
  CHECK(desk.about("POST /api/checks/{}/cancel", "1e300").status == 404);
  desk.routes.clear();  // returns although checks wait
}

TEST_CASE("an upload is kept under its own name once it is whole") {
  const Setup desk;
  const Answer kept = desk.ask("POST /api/upload", upload("../../lamp.zip", {"abc", "def"}));
  CHECK(kept.status == 200);
  CHECK(Json::parse(kept.body).at("name") == "lamp.zip");
  CHECK(text_in(desk / "lamp.zip") == "abcdef");
  SECTION("the same again is recognised") {
    const Json again = Json::parse(desk.ask("POST /api/upload", upload("lamp.zip", {"abcdef"})).body);
    CHECK(again.at("known") == true);
    CHECK(!fs::exists(desk / "lamp 2.zip"));
  }
  SECTION("another of that name gets a number, and is recognised by it") {
    for (const bool known : {false, true}) {
      const Json other = Json::parse(desk.ask("POST /api/upload", upload("lamp.zip", {"xyz"})).body);
      CHECK(other.at("name") == "lamp 2.zip");
      CHECK(other.at("known") == known);
    }
    CHECK(text_in(desk / "lamp.zip") == "abcdef");
    CHECK(text_in(desk / "lamp 2.zip") == "xyz");
  }
}

TEST_CASE("an upload that ends early, is too long or is no job leaves nothing") {
  const Setup desk;
  const auto before = desk.files();
  CHECK(desk.ask("POST /api/upload", upload("lamp.zip", {"abc"}, false)).status == 400);
  CHECK(desk.ask("POST /api/upload", upload("lamp.zip", {std::string(600, 'a'), std::string(600, 'b')})).status == 413);
  for (const char* name : {"", "lamp.png", "..", "lamp.zip/..", "lamp", ".zip"})
    CHECK(desk.ask("POST /api/upload", upload(name, {"abc"})).status == 400);
  CHECK(desk.files() == before);
}

TEST_CASE("two uploads run at once, a third is refused") {
  const Setup desk;
  std::vector<int> statuses;
  Call second = upload("two.zip", {"2"}), first = upload("one.zip", {"1"});
  second.read_body = [&](const TextSink& sink) {
    statuses.push_back(desk.ask("POST /api/upload", upload("three.zip", {"3"})).status);
    return sink("2");
  };
  first.read_body = [&](const TextSink& sink) {
    statuses.push_back(desk.ask("POST /api/upload", second).status);
    return sink("1");
  };
  statuses.push_back(desk.ask("POST /api/upload", first).status);
  CHECK(statuses == std::vector{503, 200, 200});
  CHECK(!fs::exists(desk / "three.zip"));
}

TEST_CASE("what an archive of another program leaves out is asked for, and the answers are used from then on") {
  const Setup desk;
  write_foreign(desk.path / "slices");
  REQUIRE(desk.job("slices").at("asks") == true);
  const Json asked = Json::parse(desk.about("GET /api/jobs/{}/asks", "slices").body);
  std::map<std::string, Json> by_path;
  for (const Json& field : asked.at("fields"))
    for (const Json& path : field.at("paths")) by_path[path.get<std::string>()] = field;
  for (const char* path : {"image.pitch_x_mm", "image.pitch_y_mm", "layers.height_mm", "exposure.normal_s"}) {
    INFO(path);
    REQUIRE(by_path.contains(path));
    CHECK(by_path[path].at("sure") == "ask");
    CHECK(by_path[path].at("required") == true);
  }
  CHECK(by_path["layers.height_mm"].at("unit") == "mm");

  const auto answered = [&](const char* height, bool keep) {
    const Json values = {{"image.pitch_x_mm", "0.05"},
                         {"image.pitch_y_mm", "50 um"},
                         {"layers.height_mm", height},
                         {"exposure.normal_s", "2.5"}};
    return Json::parse(
        desk.about("POST /api/jobs/{}/asks", "slices", Json{{"values", values}, {"keep", keep}}.dump()).body);
  };
  const Json wrong = answered("thin", true);
  CHECK(wrong.at("errors").at("layers.height_mm").get<std::string>().find("thin") != std::string::npos);
  CHECK(wrong.at("kept") == false);
  CHECK(answered("50", true).at("errors").at("layers.height_mm").get<std::string>().find("at most 1") !=
        std::string::npos);
  const Json right = answered("0.05", false);
  INFO(right.dump());
  CHECK(right.at("opens") == true);
  CHECK(desk.job("slices").at("asks") == true);
  CHECK(answered("0.05", true).at("kept") == true);

  const auto archive = Archive::open(desk.path / "slices", open_options_for(desk.shared->folder, "slices"));
  REQUIRE(archive);
  CHECK(archive->settings().height_mm == 0.05);
  CHECK(archive->settings().pitch.y_mm == 0.05);
  const Json job = desk.job("slices");
  CHECK(job.at("asks") == false);
  CHECK(job.at("answered") == true);
  SECTION("they can be changed later") {
    CHECK(answered("0.1", true).at("kept") == true);
    CHECK(Archive::open(desk.path / "slices", open_options_for(desk.shared->folder, "slices"))->settings().height_mm ==
          0.1);
    const Json again = Json::parse(desk.about("GET /api/jobs/{}/asks", "slices").body);
    CHECK(again.at("kept") == true);
  }
  SECTION("damaged ones are as if they were not there") {
    REQUIRE(write_text(desk.path / "desk/descriptions/slices.json", std::string_view("{")));
    CHECK(desk.job("slices").at("asks") == true);
  }
}
