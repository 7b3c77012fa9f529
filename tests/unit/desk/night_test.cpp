// Tonight without a network: what the page sends, what it gets, what lies in the folder then. How many checks were made
// is told by the memory of earlier ones.
#include <unistd.h>

#include <atomic>
#include <catch2/catch.hpp>
#include <chrono>
#include <nlohmann/json.hpp>
#include <thread>

#include "desk/night_checks.hpp"
#include "desk/night_file.hpp"
#include "hairline/files.hpp"
#include "unit/desk/handlers.hpp"
#include "unit/queue/night_support.hpp"

using namespace hairline;
using namespace hairline::desk;
namespace fs = std::filesystem;

namespace {

// A workshop with these jobs and a record.
struct Stocked : test::Workshop {
  explicit Stocked(const std::vector<std::string>& jobs) {
    for (const std::string& job : jobs) test::write_job(path / job, {.title = job});
    REQUIRE(save_record(test::small_record(), path / "harbour-grey.json"));
  }
};

struct Night : Stocked, test::Handlers {
  explicit Night(const std::vector<std::string>& jobs = {"hull.zip", "gallery.zip"})
      : Stocked(jobs), Handlers(path, {add_night_routes}) {}

  Answer ask(const std::string& method, const std::string& at, const std::string& body = {},
             const std::string& version = {}) {
    return Handlers::ask(method + " " + at,
                         {.names = {}, .query = {{"version", version}}, .body = body, .read_body = {}});
  }
  Json state() { return Json::parse(ask("GET", "/api/night").body); }
  /// Once all jobs are known.
  Json settled() {
    for (int i = 0; i < 3000; ++i) {
      Json now = state();
      if (!now["busy"].get<bool>()) return now;
      std::this_thread::sleep_for(std::chrono::milliseconds(10));
    }
    FAIL("the checks do not end");
    return {};
  }
  Answer change(const Json& queue) { return ask("POST", "/api/night", queue.dump(), state()["version"]); }
  Json saved() const { return Json::parse(read_text(path / "desk/night.json").value()); }
};

Json queue_of(const std::vector<std::string>& jobs) {
  Json queue = {{"format", "print-queue"}, {"version", 1}, {"zone", "Europe/Berlin"}, {"jobs", Json::array()}};
  for (const std::string& job : jobs) queue["jobs"].push_back({{"file", job}});
  return queue;
}

}  // namespace

TEST_CASE("an empty night has the folder's jobs and records to choose from, and writes nothing") {
  Night night;
  const Json state = night.settled();
  CHECK(state["queue"]["jobs"].empty());
  CHECK(state["queue"]["printers"].empty());
  CHECK(state["queue"]["zone"] == local_zone());
  CHECK(state["choices"]["jobs"] == Json({"gallery.zip", "hull.zip"}));
  CHECK(state["choices"]["records"] == Json({"harbour-grey.json"}));
  CHECK(state["waiting"] == 0);
  CHECK_FALSE(fs::exists(night / "desk/night.json"));
}

TEST_CASE("what the page sends lies in the folder as a queue file with paths, and comes back with names") {
  Night night;
  Json queue = queue_of({"hull.zip", "gallery.zip"});
  queue["printers"] = Json::array({{{"label", "quay bench"}, {"record", "harbour-grey.json"}, {"resin_ml", 100}}});
  queue["jobs"][1]["printer"] = "quay bench";
  REQUIRE(night.change(queue).status == 200);
  CHECK(night.saved()["jobs"][0] == Json({{"file", "../hull.zip"}}));
  CHECK(night.saved()["printers"][0]["record"] == "../harbour-grey.json");
  const Json state = night.settled();
  CHECK(state["queue"]["jobs"][1]["file"] == "gallery.zip");
  CHECK(state["queue"]["jobs"][1]["printer"] == "quay bench");
  CHECK(state["queue"]["printers"][0]["record"] == "harbour-grey.json");
  CHECK(state["jobs"][0]["verdict"] == "clear");
  CHECK_THAT(state["jobs"][0]["said"].get<std::string>(), Catch::Contains("quay bench"));
  CHECK_THAT(state["timelines"].get<std::string>(), Catch::Contains("data-job=\"1\""));
  // What came back is the same again when it is sent.
  const std::string before = night.saved().dump();
  REQUIRE(night.change(state["queue"]).status == 200);
  CHECK(night.saved().dump() == before);
}

TEST_CASE("queue.json is what the queue makes of the file in the folder") {
  Night night;
  Json queue = queue_of({"hull.zip", "gallery.zip"});
  queue["start"] = "2026-11-26T22:00";
  queue["ready_by"] = "2026-11-26T22:01";
  queue["jobs"][0]["copies"] = 2;
  REQUIRE(night.change(queue).status == 200);
  CHECK(night.state()["busy"] == true);
  CHECK(night.ask("GET", "/api/night/queue.json").status == 409);
  night.settled();
  const Answer answer = night.ask("GET", "/api/night/queue.json");
  CHECK(answer.file_name == "queue.json");

  NightRequest request{.queue = read_queue(night.shared->folder.queue_file()).value(),
                       .open = {},
                       .record = {.record = {}, .records = night.shared->folder.root().string()},
                       .settings = {},
                       .shard = {}};
  request.settings.tonight.today = "2026-11-07";
  Progress progress;
  const auto entries = check_queue(request, progress, {}).value();
  const CheckedQueue whole{.times = request.queue.times,
                           .printers = request.queue.printers,
                           .entries = entries,
                           .jobs_in_all = 2,
                           .shard = {},
                           .plan = plan_night(request.queue.times, request.queue.printers, entries).value()};
  CHECK(answer.body == to_json(whole));
  CHECK(whole.plan.prints.size() == 3);
  CHECK(whole.plan.prints[2].late);
}

TEST_CASE("a name that does not lie in the folder is refused, whatever way it leads") {
  Night night;
  REQUIRE(write_text(night / "notes.txt", "no job"));
  REQUIRE(make_folder(night / "deeper"));
  test::write_job(night / "deeper/pier.zip");
  for (const char* name : {"../hull.zip", "/etc/passwd", "deeper/pier.zip", "./hull.zip", "hull.zip/", "notes.txt",
                           "desk", "desk/cache", "..", ".", "harbour-grey.json"}) {
    INFO(name);
    CHECK(night.change(queue_of({name})).status == 404);
    Json queue = queue_of({"hull.zip"});
    queue["printers"] = Json::array({{{"label", "quay bench"}, {"record", std::string("../") + name}}});
    CHECK(night.change(queue).status == 404);
  }
  CHECK_FALSE(fs::exists(night / "desk/night.json"));
}

TEST_CASE("a job elsewhere that the file names already stays, also when it is moved") {
  Night night;
  const test::Workshop elsewhere;
  test::write_job(elsewhere / "pier.zip");
  Json queue = queue_of({elsewhere / "pier.zip", "../hull.zip"});
  REQUIRE(write_text(night / "desk/night.json", queue.dump()));
  Json state = night.settled();
  CHECK(state["jobs"][0]["verdict"] != "broken");
  Json shown = state["queue"];
  CHECK(shown["jobs"][0]["file"] == elsewhere / "pier.zip");
  std::swap(shown["jobs"][0], shown["jobs"][1]);
  REQUIRE(night.change(shown).status == 200);
  const Queue saved = read_queue(night.shared->folder.queue_file()).value();
  CHECK(fs::equivalent(saved.jobs[1].file, elsewhere / "pier.zip"));
}

TEST_CASE("a wrong or broken queue is refused with what is wrong, and what was there stays") {
  Night night;
  REQUIRE(night.change(queue_of({"hull.zip"})).status == 200);
  const std::string before = night.saved().dump();
  Json many = queue_of({"hull.zip"});
  many["jobs"][0]["copies"] = 0;
  const Answer answer = night.change(many);
  CHECK_THAT(Json::parse(answer.body).at("refused").get<std::string>(),
             Catch::Contains("copies is 0; expected a whole number from 1 to 1000"));
  const std::string version = night.state()["version"];
  for (const std::string& body : {std::string(), std::string("{"), std::string("[]"), std::string(100'000, '['),
                                  std::string(R"({"format": "layer-archive", "version": 1})")}) {
    INFO(body.substr(0, 40));
    const Answer refused = night.ask("POST", "/api/night", body, version);
    CHECK((refused.status != 200 || Json::parse(refused.body).contains("refused")));
  }
  CHECK(night.saved().dump() == before);
}

TEST_CASE("a night.json that cannot be read is said, and not written over") {
  Night night;
  REQUIRE(write_text(night / "desk/night.json", "{ half"));
  const Answer answer = night.ask("GET", "/api/night");
  CHECK(answer.status == 400);
  CHECK_THAT(answer.body, Catch::Contains("night.json") && Catch::Contains("not JSON"));
  CHECK(night.ask("POST", "/api/night", queue_of({"hull.zip"}).dump()).status == 400);
  CHECK(night.ask("GET", "/api/night/queue.json").status == 400);
  CHECK(read_text(night / "desk/night.json").value() == "{ half");
}

TEST_CASE("a change of what somebody else changed meanwhile is refused") {
  Night night;
  const std::string version = night.state()["version"];
  REQUIRE(night.ask("POST", "/api/night", queue_of({"hull.zip"}).dump(), version).status == 200);
  CHECK(night.ask("POST", "/api/night", queue_of({"gallery.zip"}).dump(), version).status == 409);
  CHECK(night.ask("POST", "/api/night", queue_of({"gallery.zip"}).dump()).status == 409);
  CHECK(night.saved()["jobs"][0]["file"] == "../hull.zip");
}

TEST_CASE("of many changes at once, on two desks over one folder, each is kept or refused") {
  Night one;
  const test::Handlers other(one.path, {});
  constexpr int writers = 8, changes = 12;
  std::atomic<int> kept{0}, odd{0};
  {
    std::vector<std::jthread> threads;
    for (int i = 0; i < writers; ++i)
      threads.emplace_back([&, i] {
        const Folder& folder = (i % 2 == 0 ? one.shared : other.shared)->folder;
        for (int done = 0; done < changes;) {
          const NightFile now = read_night(folder).value();
          Json queue = queue_of({});
          for (const QueueJob& job : now.queue.jobs) queue["jobs"].push_back({{"file", shown_name(folder, job.file)}});
          queue["jobs"].push_back({{"file", "hull.zip"}});
          const auto changed = change_night(folder, now.version, queue.dump());
          if (changed) ++kept, ++done;
          if (!changed && changed.error().kind != ErrorKind::mismatch) ++odd, ++done;
        }
      });
  }
  CHECK(kept == writers * changes);
  CHECK(odd == 0);
  CHECK(read_night(one.shared->folder)->queue.jobs.size() == static_cast<std::size_t>(kept));
}

TEST_CASE("another order, copies, times and resin need no other look at the jobs; another exposure needs one") {
  Night night;
  NightChecks checks(*night.shared);
  const auto known = [&](const Queue& queue) {
    for (int i = 0; i < 3000; ++i) {
      const auto seen = checks.see(queue);
      if (!seen.busy) return seen;
      std::this_thread::sleep_for(std::chrono::milliseconds(10));
    }
    FAIL("the checks do not end");
    return NightChecks::Seen{};
  };
  Queue queue;
  queue.printers = {{.label = "quay bench", .record = {}, .resin_ml = {}, .vat_ml = {}, .plate_mm = {}}};
  for (const char* file : {"hull.zip", "gallery.zip"})
    queue.jobs.push_back({.file = night / file, .printer = {}, .exposure_s = {}});
  CHECK(checks.see(queue).waiting == 2);
  CHECK(known(queue).waiting == 0);

  std::swap(queue.jobs[0], queue.jobs[1]);
  queue.jobs[0].copies = 3;
  queue.printers[0].resin_ml = 5;
  queue.times.start = parse_local_time("2026-11-26T22:00").value();
  const auto seen = checks.see(queue);
  CHECK(seen.waiting == 0);
  CHECK_FALSE(seen.busy);
  REQUIRE(seen.entries[0]);
  CHECK(seen.entries[0]->job == queue.jobs[0]);
  CHECK(seen.entries[0]->rows[0].title == "gallery.zip");
  CHECK(seen.entries[1]->place == 2);

  queue.jobs[1].exposure_s = 2.0;
  CHECK(checks.see(queue).waiting == 1);
  CHECK(known(queue).entries[1]->rows[0].exposure_s == 2.0);
}

TEST_CASE("a job that changed is seen once the night is looked at again") {
  Night night;
  REQUIRE(night.change(queue_of({"hull.zip", "pier.zip"})).status == 404);
  REQUIRE(night.change(queue_of({"hull.zip"})).status == 200);
  CHECK(night.settled()["jobs"][0]["verdict"] == "clear");
  REQUIRE(write_text(night / "hull.zip", "no archive"));
  REQUIRE(night.ask("POST", "/api/night/look", "{}").status == 200);
  CHECK(night.settled()["jobs"][0]["verdict"] == "broken");
  fs::remove(night / "hull.zip");
  REQUIRE(night.ask("POST", "/api/night/look", "{}").status == 200);
  const Json state = night.settled();
  CHECK(state["jobs"][0]["verdict"] == "broken");
  CHECK(night.change(state["queue"]).status == 200);  // it may stay, and be moved
}

TEST_CASE("what was stopped waits until it is looked at again") {
  Night night;
  REQUIRE(night.ask("POST", "/api/night/stop", "{}").status == 200);
  NightChecks checks(*night.shared);
  Queue queue;
  queue.printers.emplace_back();
  queue.jobs.push_back({.file = night / "hull.zip", .printer = {}, .exposure_s = {}});
  checks.see(queue);
  checks.stop();
  const auto stopped = checks.see(queue);
  CHECK(stopped.stopped);
  checks.again();
  for (int i = 0; i < 3000 && checks.see(queue).busy; ++i) std::this_thread::sleep_for(std::chrono::milliseconds(10));
  CHECK(checks.see(queue).waiting == 0);
}
