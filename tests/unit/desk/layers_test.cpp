// Layers on the desk without a network: what is shown is what the library shows, and a job that changes is noticed.
#include <catch2/catch.hpp>
#include <thread>

#include "desk/json.hpp"
#include "desk/last_check.hpp"
#include "hairline/layer_view.hpp"
#include "unit/desk/handlers.hpp"
#include "unit/queue/night_support.hpp"

using namespace hairline;
using namespace hairline::desk;
namespace fs = std::filesystem;

namespace {

// A quay 20 pixels wide and a wall beside it, which is lost where it is one pixel wide.
void write_quay(const fs::path& path, std::uint32_t wall_px, const std::string& title) {
  JobSettings job;
  job.title = title, job.size = {40, 30}, job.layer_count = 6, job.normal_s = 2.5, job.resin_label = "harbour grey";
  std::vector<std::uint8_t> pixels(40 * 30, 0);
  for (std::uint32_t row = 5; row < 25; ++row)
    for (std::uint32_t col = 0; col < 40; ++col)
      if ((col >= 5 && col < 5 + wall_px) || (col >= 15 && col < 35)) pixels[row * 40 + col] = 255;
  Progress progress;
  REQUIRE(write_archive(
      path, job, PngFilter::up, [&](std::uint32_t) { return encode(pixels, job.size); }, progress));
}

// A workshop with such a job and its record.
struct Stocked : test::Workshop {
  Stocked() {
    write_quay(path / "wall.zip", 1, "Breakwater");
    REQUIRE(save_record(test::small_record(), path / "grey.json"));
  }
};

struct Bench : Stocked, test::Handlers {
  Bench() : Handlers(path, {add_job_routes, add_layer_routes}) {}

  Answer get(const std::string& at, const std::map<std::string, std::string>& query = {}) const {
    return ask("GET " + at, {.names = {}, .query = query, .body = {}, .read_body = {}});
  }
  Json findings() const { return Json::parse(get("/api/jobs/wall.zip/findings").body); }
  Json facts() const { return Json::parse(get("/api/jobs/wall.zip/layers").body); }
  void check(const std::string& body) const {
    const Answer begun =
        ask("POST /api/jobs/wall.zip/check", {.names = {}, .query = {}, .body = body, .read_body = {}});
    REQUIRE(begun.status == 200);
    REQUIRE(ended_check().at("stage") == "done");
  }
};

std::map<std::string, std::string> part(const std::string& x, const std::string& y, const std::string& w,
                                        const std::string& h, const std::string& wide, const std::string& time = "0") {
  return {{"x", x}, {"y", y}, {"w", w}, {"h", h}, {"wide", wide}, {"time", time}};
}

// The wall as the library shows it, by the file that the check left.
std::string expected_png(const Bench& desk, std::uint32_t number, std::uint32_t time) {
  const auto last = last_check(desk.shared->folder, "wall.zip");
  REQUIRE(last);
  const auto flips = Flips::open(desk.path / "desk" / "cache" / (last->looks + ".flips"));
  REQUIRE(flips);
  const auto archive = Archive::open(desk / "wall.zip");
  REQUIRE(archive);
  const auto seen = layer_view(solid(archive->read_layer(number).value()), flips->layer(number).value(), time,
                               archive->settings().pitch, {{0, 0, 40, 30}, 40, 30});
  REQUIRE(seen);
  return layer_png(*seen);
}

}  // namespace

TEST_CASE("layers of a checked job are those of the library, at each time") {
  const Bench desk;
  CHECK(desk.facts().at("kept") == "nothing");
  CHECK(desk.facts().at("times_s").empty());
  desk.check(R"({"record": "grey.json"})");
  const Json facts = desk.facts();
  CHECK(facts.at("title") == "Breakwater");
  CHECK(facts.at("count") == 6);
  CHECK(facts.at("bottom_mm").back() == Approx(0.05 * 5));
  CHECK(facts.at("kept") == "all");
  REQUIRE(facts.at("times_s").size() > 2);
  CHECK(facts.at("times_s")[facts.at("judged").get<std::size_t>()] == 2.5);
  const Json findings = desk.findings();
  REQUIRE(findings.size() == 1);
  CHECK(findings[0].at("to_layer") == 6);
  CHECK(findings[0].at("box_mm").at("from")[0] == Approx(5 * 0.05));
  const std::string judged = facts.at("judged").dump();
  for (std::uint32_t time = 0; time < facts.at("times_s").size(); ++time) {
    const Answer shown =
        desk.get("/api/jobs/wall.zip/layers/5.png", part("0", "0", "40", "30", "40", std::to_string(time)));
    CHECK(shown.type == "image/png");
    CHECK(shown.body == expected_png(desk, 5, time));
  }
  const Json changes = Json::parse(desk.get("/api/jobs/wall.zip/layers/5", {{"time", judged}}).body);
  CHECK(changes.at("missing") == 1);
  CHECK(changes.at("missing_mm2") == Approx(20 * 0.05 * 0.05));  // closed form
  CHECK(changes.at("filled") == 0);
}

TEST_CASE("layers of a job that was changed after its check are shown as drawn, until it is checked again") {
  const Bench desk;
  desk.check(R"({"record": "grey.json"})");
  const Answer thin = desk.get("/api/jobs/wall.zip/layers/5.png", part("0", "0", "40", "30", "40"));
  write_quay(desk / "wall.zip", 3, "Wider breakwater");
  CHECK(desk.facts().at("kept") == "changed");
  CHECK(desk.facts().at("title") == "Wider breakwater");
  CHECK(desk.findings() == Json::array());
  const Answer drawn = desk.get("/api/jobs/wall.zip/layers/5.png", part("0", "0", "40", "30", "40"));
  CHECK(drawn.status == 200);
  CHECK(drawn.body != thin.body);
  desk.check(R"({"record": "grey.json"})");
  CHECK(desk.facts().at("kept") == "all");
}

TEST_CASE("layers: what a check left and lost again, or damaged, counts as nothing") {
  const Bench desk;
  desk.check(R"({"record": "grey.json"})");
  const fs::path cache = desk.path / "desk" / "cache";
  const auto last = last_check(desk.shared->folder, "wall.zip");
  REQUIRE(last);
  SECTION("cut off") {
    fs::resize_file(cache / (last->looks + ".flips"), 50);
  }
  SECTION("gone") {
    fs::remove(cache / (last->looks + ".flips"));
  }
  CHECK(desk.facts().at("kept") == "nothing");
  CHECK(desk.findings() == Json::array());
  CHECK(desk.get("/api/jobs/wall.zip/layers/1.png", part("0", "0", "40", "30", "40")).status == 200);
}

TEST_CASE("layers: requests that make no sense are refused") {
  const Bench desk;
  for (const char* number : {"0", "7", "-1", "1.5", "x", "99999999999999"}) {
    INFO(number);
    const std::string path = std::string("/api/jobs/wall.zip/layers/") + number;
    CHECK(desk.get(path + ".png", part("0", "0", "40", "30", "40")).status == 404);
    CHECK(desk.get(path, {{"time", "0"}}).status == 404);
  }
  for (const auto& bad :
       {part("0", "0", "41", "30", "40"), part("1", "0", "40", "30", "40"), part("0", "0", "0", "30", "40"),
        part("0", "0", "40", "30", "0"), part("0", "0", "40", "30", "2001"), part("-1", "0", "40", "30", "40"),
        part("0", "0.5", "40", "30", "40"), part("nan", "0", "40", "30", "40"), part("0", "0", "40", "30", "40", "1"),
        part("0", "0", "40", "30", "40", "")})
    CHECK(desk.get("/api/jobs/wall.zip/layers/1.png", bad).status == 400);
  CHECK(desk.get("/api/jobs/wall.zip/layers/1.png").status == 400);
  for (const std::string name : {"none.zip", "grey.json", "desk"})
    for (const char* what : {"/layers", "/findings"}) CHECK(desk.get("/api/jobs/" + name + what).status == 404);
  desk.check(R"({"record": "grey.json"})");
  const auto last = last_check(desk.shared->folder, "wall.zip");
  REQUIRE(last);
  fs::remove(desk.path / "desk" / "cache" / (last->id + ".report.json"));
  CHECK(desk.get("/api/jobs/wall.zip/findings").status == 404);
}

TEST_CASE("layers: a part far from square still has pixels") {
  const Bench desk;
  for (const auto& thin : {part("0", "0", "40", "1", "2"), part("3", "0", "1", "30", "2000")})
    CHECK(desk.get("/api/jobs/wall.zip/layers/1.png", thin).status == 200);
}
