#include <unistd.h>

#include <catch2/catch.hpp>
#include <filesystem>

#include "hairline/files.hpp"
#include "plan_support.hpp"

using namespace hairline;
using namespace hairline::test;
namespace fs = std::filesystem;

namespace {

const fs::path formats = fs::path(HAIRLINE_SOURCE_DIR) / "formats";

std::vector<fs::path> json_files(const fs::path& folder) {
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(folder))
    if (entry.path().extension() == ".json") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  return files;
}

struct Workshop {
  fs::path folder;
  Workshop() {
    std::string name = (fs::temp_directory_path() / "hairline-queue-XXXXXX").string();
    REQUIRE(::mkdtemp(name.data()) != nullptr);
    folder = name;
  }
  ~Workshop() {
    std::error_code ignored;
    fs::remove_all(folder, ignored);
  }
  std::string operator/(const std::string& name) const { return (folder / name).string(); }
  std::string write(const std::string& name, const std::string& members) const {
    const fs::path path = folder / name;
    fs::create_directories(path.parent_path());
    REQUIRE(write_text(path, R"({"format": "print-queue", "version": 1, )" + members + "}"));
    return path.string();
  }
};

Error error_of(const Result<Queue>& queue) {
  REQUIRE_FALSE(queue);
  return queue.error();
}

}  // namespace

TEST_CASE("every example queue can be read") {
  const auto files = json_files(formats / "examples/print-queue");
  REQUIRE(files.size() >= 4);
  for (const auto& path : files) {
    INFO(path);
    const auto queue = read_queue(path);
    REQUIRE(queue);
    CHECK_FALSE(queue->printers.empty());
  }
}

TEST_CASE("every broken queue gives its stated error") {
  const auto files = json_files(formats / "broken/print-queue");
  REQUIRE(files.size() >= 35);
  for (const auto& path : files) {
    INFO(path);
    fs::path beside = path;
    std::string expected = read_text(beside.replace_extension(".expected")).value();
    if (expected.starts_with("schema:")) expected.erase(0, 7);
    expected.erase(0, expected.find_first_not_of(' '));
    expected.erase(expected.find_last_not_of('\n') + 1);
    REQUIRE_FALSE(expected.empty());
    const Error error = error_of(read_queue(path));
    CHECK(error.file == path.string());
    CHECK_THAT(to_paragraph(error), Catch::Contains(expected));
  }
}

TEST_CASE("what a queue file says is what is read") {
  const fs::path folder = formats / "examples/print-queue";
  const Queue queue = read_queue(folder / "one-printer.json").value();
  CHECK(to_string(queue.times.start.value()) == "2026-11-26T22:00");
  CHECK(to_string(queue.times.ready_by.value()) == "2026-11-27T07:30");
  CHECK(queue.times.zone == "Europe/Berlin");
  REQUIRE(queue.printers.size() == 1);
  QueuePrinter bench = printer("quay bench");
  bench.record = (folder / "harbour-grey.json").string();
  bench.resin_ml = 480;
  bench.vat_ml = 250;
  bench.plate_mm = {{143, 89}};
  bench.changeover_min = 20;
  CHECK(queue.printers[0] == bench);
  REQUIRE(queue.jobs.size() == 2);
  CHECK(queue.jobs[0].file == (folder / "gallery.zip").string());
  CHECK(queue.jobs[0].printer == "quay bench");
  CHECK(queue.jobs[0].exposure_s == 2.4);
  CHECK(queue.jobs[0].copies == 2);
  CHECK(queue.jobs[1].printer.empty());
  CHECK_FALSE(queue.jobs[1].exposure_s);
  CHECK(queue.jobs[1].copies == 1);
  CHECK(read_queue(folder / "spring-night.json").value().jobs[3].file == "/srv/models/bollards");
}

TEST_CASE("a queue without printers has one without limits, and the zone of this machine") {
  const Queue queue = read_queue(formats / "examples/print-queue/jobs-alone.json").value();
  REQUIRE(queue.printers.size() == 1);
  CHECK(queue.printers[0] == QueuePrinter{});
  CHECK(queue.times.zone == local_zone());
  CHECK_FALSE(queue.times.start);
}

TEST_CASE("a queue file that is not there, or a copy too many, has its own kind of error") {
  const Workshop workshop;
  CHECK(error_of(read_queue(workshop / "none.json")).kind == ErrorKind::not_found);
  CHECK(error_of(read_queue(workshop.folder)).kind == ErrorKind::unreadable);
  CHECK(error_of(read_queue(formats / "broken/print-queue/copies-absurd.json")).kind == ErrorKind::limit);
  CHECK(error_of(read_queue(formats / "broken/print-queue/prints-absurd.json")).kind == ErrorKind::limit);
  CHECK(error_of(read_queue(formats / "broken/print-queue/no-copies.json")).kind == ErrorKind::invalid);
  CHECK(error_of(read_queue(formats / "broken/print-queue/version-2.json")).kind == ErrorKind::version);
  CHECK(error_of(read_queue(formats / "broken/print-queue/not-json.json")).kind == ErrorKind::broken);
}

TEST_CASE("every example queue is written as it was read") {
  for (const auto& path : json_files(formats / "examples/print-queue")) {
    INFO(path);
    const Queue queue = read_queue(path).value();
    const std::string text = write_queue(queue, path.parent_path());
    const auto again = parse_queue(text, path);
    REQUIRE(again);
    CHECK(*again == queue);
    CHECK(write_queue(*again, path.parent_path()) == text);
  }
}

TEST_CASE("a written queue says what it holds and no more, with paths from its own folder") {
  Queue queue;
  queue.times.zone = "Europe/Berlin";
  queue.printers.emplace_back();
  CHECK(write_queue(queue, "/quay/desk") ==
        "{\n \"format\": \"print-queue\",\n \"version\": 1,\n \"zone\": \"Europe/Berlin\",\n \"jobs\": []\n}\n");
  CHECK(parse_queue(write_queue(queue, "/quay/desk"), "/quay/desk/night.json").value() == queue);
  for (const auto& [file, written] :
       {std::pair("/quay/gallery.zip", "../gallery.zip"), std::pair("/quay/desk/../gallery.zip", "../gallery.zip"),
        std::pair("/quay/desk/hull.zip", "hull.zip"), std::pair("/srv/models/bollards", "/srv/models/bollards")}) {
    INFO(file);
    queue.jobs = {{.file = file, .printer = {}, .exposure_s = 2.3, .copies = 2}};
    const std::string text = write_queue(queue, "/quay/desk");
    CHECK_THAT(text, Catch::Contains("\"file\": \"" + std::string(written) + "\""));
    CHECK_THAT(text, Catch::Contains("\"exposure_s\": 2.3"));
    CHECK_THAT(text, Catch::Contains("\"copies\": 2"));
  }
}

TEST_CASE("5000 jobs are read in their order") {
  const Workshop workshop;
  std::string jobs;
  for (int i = 0; i < 5000; ++i) jobs += (i ? ",{\"file\":\"" : "{\"file\":\"") + std::to_string(i) + ".zip\"}";
  const Queue queue = read_queue(workshop.write("tonight.json", "\"jobs\": [" + jobs + "]")).value();
  REQUIRE(queue.jobs.size() == 5000);
  for (int i = 0; i < 5000; ++i) CHECK(queue.jobs[i].file == workshop / (std::to_string(i) + ".zip"));
}

TEST_CASE("files, folders and lists make one queue, in the order given") {
  const Workshop workshop;
  REQUIRE(make_folder(workshop.folder / "night"));
  REQUIRE(make_folder(workshop.folder / "empty"));
  for (const char* name : {"night/job10.zip", "night/job2.zip"}) REQUIRE(write_text(workshop / name, "x"));
  REQUIRE(write_text(workshop / "list.txt", "# tonight\nlantern.zip\n"));
  const std::string file = workshop.write("q/tonight.JSON", R"("printers": [{"label": "quay bench"}],
      "jobs": [{"file": "gallery.zip", "printer": "quay bench"}])");
  const Queue queue =
      find_queue({workshop / "night", workshop / "empty", file, workshop / "list.txt", "direct.zip"}).value();
  std::vector<std::string> files;
  for (const QueueJob& job : queue.jobs) files.push_back(job.file);
  CHECK(files == std::vector<std::string>{workshop / "night/job2.zip", workshop / "night/job10.zip",
                                          workshop / "q/gallery.zip", workshop / "lantern.zip", "direct.zip"});
  REQUIRE(queue.printers.size() == 1);
  CHECK(queue.printers[0].label == "quay bench");
  CHECK(queue.jobs[2].printer == "quay bench");

  CHECK(find_queue({workshop / "night"}).value().printers == std::vector{QueuePrinter{}});
  CHECK(error_of(find_queue({workshop / "empty"})).kind == ErrorKind::invalid);
  CHECK(error_of(find_queue({workshop.write("p.json", R"("printers": [{"label": "quay bench"}])")})).kind ==
        ErrorKind::invalid);
  CHECK(error_of(find_queue({workshop / "night", workshop / "none.txt"})).kind == ErrorKind::not_found);
  CHECK(error_of(find_queue({workshop / "night", workshop / "none.json"})).kind == ErrorKind::not_found);
}

TEST_CASE("queue files together state each thing once, or the same") {
  const Workshop workshop;
  const std::string start = workshop.write("a.json", R"("start": "2026-11-26T22:00", "zone": "Europe/Berlin",
      "printers": [{"label": "quay bench", "resin_ml": 480}], "jobs": [{"file": "a.zip"}])");
  const std::string ready = workshop.write("b.json", R"("ready_by": "2026-11-27T07:30",
      "printers": [{"label": "slipway bench"}, {"label": "quay bench", "resin_ml": 480}], "jobs": [{"file": "b.zip"}])");
  const Queue queue = find_queue({start, ready}).value();
  CHECK(to_string(queue.times.start.value()) == "2026-11-26T22:00");
  CHECK(to_string(queue.times.ready_by.value()) == "2026-11-27T07:30");
  CHECK(queue.times.zone == "Europe/Berlin");
  REQUIRE(queue.printers.size() == 2);
  CHECK(queue.printers[1].label == "slipway bench");

  std::string many = R"("jobs": [{"file": "a.zip", "copies": 1000})";
  for (int i = 1; i < 60; ++i) many += R"(, {"file": "a.zip", "copies": 1000})";
  many += "]";
  const Error too_many = error_of(find_queue({workshop.write("c.json", many), workshop.write("d.json", many)}));
  CHECK(too_many.kind == ErrorKind::limit);
  CHECK(too_many.found == "it asks for 120000 prints");

  for (const char* other :
       {R"("start": "2026-11-26T21:00")", R"("zone": "Europe/Lisbon")",
        R"("printers": [{"label": "quay bench", "resin_ml": 470}])", R"("ready_by": "2026-11-26T07:30")"}) {
    INFO(other);
    const std::string file = workshop.write("c.json", other);
    const Error error = error_of(find_queue({start, file}));
    CHECK(error.kind == ErrorKind::mismatch);
    CHECK(error.file == file);
  }
}
