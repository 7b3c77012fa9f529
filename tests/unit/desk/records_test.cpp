// Records, the evening and what came out, on the desk without a network: what is asked of its handlers, and what they
// leave in the folder.
#include <catch2/catch.hpp>
#include <fstream>
#include <thread>

#include "desk/evening.hpp"
#include "desk/fragment.hpp"
#include "desk/history.hpp"
#include "desk/last_check.hpp"
#include "hairline/report.hpp"
#include "unit/desk/handlers.hpp"
#include "unit/queue/night_support.hpp"

using namespace hairline;
using namespace hairline::desk;
using hairline::test::Workshop;
namespace fs = std::filesystem;

namespace {

// Several may be over one folder.
struct Setup : test::Handlers {
  explicit Setup(const fs::path& path) : Handlers(path, {add_record_routes, add_outcome_routes}) {}

  Answer ask(const std::string& what, const std::vector<std::string>& names = {}, const std::string& body = {}) const {
    return Handlers::ask(what, {names, {}, body, {}});
  }
  Json told(const std::string& call, const std::vector<std::string>& names = {}, const std::string& body = {}) const {
    const Answer answer = ask(call, names, body);
    INFO(answer.body);
    REQUIRE(answer.status == 200);
    return Json::parse(answer.body);
  }
};

const std::string facts = R"({"resin.label": "../../Harbour grey\u0007", "printer.pitch_mm": "50 um"})";

// A job as if it had been checked.
void put_check(const fs::path& folder, const std::string& job) {
  test::write_job(folder / job, {.title = "Buoy"});
  Report report;
  report.job.file = job;
  report.job.normal_s = report.exposure_s = 2.5;
  report.job.pitch = {0.05, 0.05};
  report.job.layer_height_mm = 0.05;
  report.record.emplace();
  report.record->file = (folder / "grey.json").string();
  report.record->model = *test::small_record().fit;
  for (std::uint32_t id = 1; id <= 3; ++id) {
    Detail detail;
    detail.id = id;
    detail.lost = true;
    detail.from_layer = detail.to_layer = id;
    detail.critical_exposure_s = 2.6;
    detail.log_sd = 0.06;
    detail.probability = 0.7;
    report.details.push_back(detail);
  }
  LastCheck check = summary_of(report);
  check.asked = {job, "grey.json", {}};
  check.id = std::string(32, 'a');
  REQUIRE(keep_check(Folder::open(folder).value(), check, "", report));
}

}  // namespace

TEST_CASE("the steps of an evening are seen by the files alone") {
  const Workshop workshop;
  std::string file;
  {
    const Setup desk(workshop.path);
    CHECK(desk.told("GET /api/evening").at("step") == "facts");
    file = desk.told("POST /api/evening", {}, facts).at("file");
    CHECK(file == "harbour-grey.json");
    CHECK(fs::exists(workshop / "harbour-grey.json"));
  }
  {
    const Setup desk(workshop.path);  // closed and opened again
    CHECK(desk.told("GET /api/records/{}/evening", {file}).at("step") == "times");
    const Json printed = desk.told("POST /api/records/{}/coupons", {file}, R"({"times": "2,2 2,8"})");
    CHECK(printed.at("step") == "readings");
    CHECK(printed.at("coupons").size() == 2);
    CHECK(fs::exists(workshop / "desk/coupons/harbour-grey/coupon-2.80s.zip"));
  }
  const Setup desk(workshop.path);
  const auto take = [&](const char* body) { return desk.told("POST /api/records/{}/readings", {file}, body); };
  const Json first =
      take(R"({"exposure_s": "2.2", "thinnest_wall_mm": "0,10", "narrowest_slot_mm": "0.06", "look": "under"})");
  CHECK((first.at("step") == "readings" && first.at("changed") == 1 && first.at("coupons")[0].at("open") == false));
  CHECK(take(R"({"exposure_s": "2.8", "thinnest_wall_mm": "0.07", "narrowest_slot_mm": "0.08", "look": "over"})")
            .at("step") == "fit");
  const Json fitted = desk.told("POST /api/records/{}/fit", {file});
  CHECK((fitted.at("step") == "done" && fitted.at("use_s").is_number()));
  // The same again changes nothing; another value takes the place of the old one, and asks for a new fit.
  CHECK(take(R"({"exposure_s": "2.8", "thinnest_wall_mm": "0.07", "look": "over"})").at("step") == "done");
  const Json replaced = take(R"({"exposure_s": "2.8", "thinnest_wall_mm": "0.06", "look": "over"})");
  CHECK(replaced.at("step") == "fit");
  CHECK(replaced.at("kept").size() == 1);
  CHECK(read_record(workshop / "harbour-grey.json")->bracket.size() == 2);
}

TEST_CASE("two desks over one folder lose no reading, no record and no outcome of each other") {
  const Workshop workshop;
  REQUIRE(save_record(test::small_record(), workshop / "grey.json"));
  put_check(workshop.path, "buoy.zip");
  const Setup one(workshop.path), other(workshop.path);
  const std::string file = one.told("POST /api/evening", {}, facts).at("file");
  const auto work = [&](const Setup& desk, int from) {
    for (int i = from; i < from + 5; ++i) {
      const std::string exposure = std::to_string(i);
      desk.ask("POST /api/records/{}/readings", {file}, R"({"exposure_s": ")" + exposure + R"(", "look": "crisp"})");
      desk.ask("POST /api/jobs/{}/outcome", {"buoy.zip"}, "{}");
    }
  };
  std::thread beside([&] { work(other, 20); });
  work(one, 10);
  beside.join();
  CHECK(read_record(workshop / file)->bracket.size() == 10);
  CHECK(outcomes_in(one.shared->folder)->size() == 10);
  CHECK(other.told("POST /api/evening", {}, facts).at("file") == "harbour-grey 2.json");
}

TEST_CASE("what the library says to a terminal is said to a page without commands and paths") {
  CHECK(without_commands("It is weak. `hairline record plan` names what to print. Good.") == "It is weak. Good.");
  CHECK(without_commands("It is weak. `hairline record plan` names what to print.") == "It is weak.");
  CHECK(without_commands("`hairline record fit a. b.json --leave-out` fits without it.").empty());
  CHECK(without_commands("`hairline record fit` helps. Good.") == "Good.");
  CHECK(without_commands("It is sound.") == "It is sound.");
  const Error error{ErrorKind::invalid, "/prints/grey.json", "it has no fit", "a fit",
                    "Run `hairline record fit` on it first."};
  CHECK(to_paragraph(for_page(error)) ==
        "grey.json: it has no fit; expected a fit. Go on with the evening of the record.");
}

TEST_CASE("what came out of a check that is no longer the last one is not kept") {
  const Workshop workshop;
  REQUIRE(save_record(test::small_record(), workshop / "grey.json"));
  put_check(workshop.path, "buoy.zip");
  const Setup desk(workshop.path);
  const auto files = outcomes_in(desk.shared->folder)->size();
  CHECK(desk.ask("POST /api/jobs/{}/outcome", {"buoy.zip"}, R"({"check": "another"})").status == 409);
  CHECK(outcomes_in(desk.shared->folder)->size() == files);
  const Json form = desk.told("GET /api/jobs/{}/outcome", {"buoy.zip"});
  CHECK(desk.ask("POST /api/jobs/{}/outcome", {"buoy.zip"}, Json{{"check", form.at("check")}}.dump()).status == 200);
}

TEST_CASE("what came out is kept beside what was said, without a place of this machine") {
  const Workshop workshop;
  REQUIRE(save_record(test::small_record(), workshop / "grey.json"));
  put_check(workshop.path, "buoy.zip");
  const Setup desk(workshop.path);
  CHECK(desk.told("GET /api/jobs/{}/outcome", {"buoy.zip"}).at("groups").size() == 3);
  const Json kept = desk.told("POST /api/jobs/{}/outcome", {"buoy.zip"},
                              R"({"lost": [2, 99], "rest_not_looked_at": true, "note": "<b>late</b>",
                                  "others": [{"fate": "fuse", "note": "the keyhole"}], "printed_on": "2026-11-06T22:00"})");
  CHECK(kept.at("file") == "2026-11-06T2200-buoy.json");
  const std::string text = read_text(workshop / "desk/outcomes/2026-11-06T2200-buoy.json").value();
  CHECK(text.find(workshop.path.string()) == std::string::npos);
  const Outcome outcome = parse_outcome(text, "").value();
  CHECK(outcome.predictions[1].seen == true);
  CHECK_FALSE(outcome.predictions[0].seen);
  CHECK(outcome.others.at(0).note == "the keyhole");
  CHECK_FALSE(outcome.job.content.empty());
  const Json again = desk.told("POST /api/jobs/{}/outcome", {"buoy.zip"},
                               R"({"came_off": true, "instead_of": "2026-11-06T2200-buoy.json"})");
  CHECK(again.at("file") == kept.at("file"));
  CHECK(desk.told("GET /api/jobs/{}/history", {"buoy.zip"}).at("prints").size() == 1);
  // A name that is none of the folder's leads nowhere: it is a new print.
  CHECK(desk.told("POST /api/jobs/{}/outcome", {"buoy.zip"}, R"({"instead_of": "../../grey.json"})").at("file") !=
        kept.at("file"));
  CHECK(read_record(workshop / "grey.json"));
  std::ofstream(workshop / "desk/outcomes/2026-11-08T0000-cut-off.json") << "{";
  const Json shown = desk.told("GET /api/records/{}", {"grey.json"});
  CHECK(shown.at("prints").size() == 3);
  CHECK(shown.at("prints")[0].contains("problem"));
  CHECK(shown.at("outcomes").get<std::string>().find("2 prints looked at") != std::string::npos);
}

TEST_CASE("a job that was not checked, or whose check is damaged, has nothing to compare with") {
  const Workshop workshop;
  put_check(workshop.path, "buoy.zip");
  const Setup desk(workshop.path);
  CHECK(desk.told("GET /api/jobs/{}/outcome", {"buoy.zip"}).contains("groups"));
  const std::string deep = R"({"others": )" + std::string(200'000, '[') + std::string(200'000, ']') + "}";
  for (const std::string& odd : {std::string("[]"), std::string(R"({"lost": [4294967298]})"), deep})
    CHECK(desk.ask("POST /api/jobs/{}/outcome", {"buoy.zip"}, odd).status == 400);
  fs::remove(workshop / ("desk/cache/" + std::string(32, 'a') + ".report.json"));
  CHECK(desk.told("GET /api/jobs/{}/outcome", {"buoy.zip"}).contains("not_yet"));
  CHECK(desk.ask("POST /api/jobs/{}/outcome", {"buoy.zip"}, "{}").status == 404);
  REQUIRE(write_text(workshop / "desk/checks/buoy.zip.json", "{\"id\": 7}"));
  CHECK(desk.told("GET /api/jobs/{}/outcome", {"buoy.zip"}).contains("not_yet"));
  CHECK(desk.ask("GET /api/jobs/{}/outcome", {"none.zip"}).status == 404);
}
