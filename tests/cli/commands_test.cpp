// Exit status, streams, and manners of the real binary.
#include <sys/wait.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <csignal>
#include <fstream>
#include <nlohmann/json.hpp>
#include <thread>

#include "jobs.hpp"

using namespace hairline;
using namespace hairline::test;
using Json = nlohmann::json;
namespace fs = std::filesystem;

namespace {

struct Workshop {
  Folder folder;
  Workshop() {
    write_zip(folder / "sound.zip");
    write_zip(folder / "thin.zip", true);
    write_file(folder / "record.json", record_text());
  }
};

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

const std::vector<std::vector<std::string>> help_calls = {{"--help"},
                                                          {"check", "--help"},
                                                          {"describe", "--help"},
                                                          {"measure", "--help"},
                                                          {"sweep", "--help"},
                                                          {"queue", "--help"},
                                                          {"pack", "--help"},
                                                          {"demo", "--help"},
                                                          {"coupon", "--help"},
                                                          {"record", "--help"},
                                                          {"record", "new", "--help"},
                                                          {"record", "read", "--help"},
                                                          {"record", "fit", "--help"},
                                                          {"record", "show", "--help"},
                                                          {"record", "plan", "--help"},
                                                          {"record", "list", "--help"}};

std::vector<std::string> words_of(const std::string& text) {
  std::vector<std::string> words;
  std::istringstream stream(text);
  for (std::string word; stream >> word;)
    if (word != "\\") words.push_back(word);
  return words;
}

}  // namespace

TEST_CASE("help and version go to stdout") {
  const Folder folder;
  for (const std::vector<std::string>& call : help_calls) {
    const Ran ran = hairline::test::hairline(call, folder.path());
    INFO(ran.out);
    CHECK(ran.status == 0);
    CHECK(ran.err.empty());
    CHECK(has(ran.out, "Examples:"));
    CHECK(has(ran.out, "  hairline "));
  }
  const Ran version = hairline::test::hairline({"--version"}, folder.path());
  CHECK(version.status == 0);
  // The version is written once, in CMakeLists.txt.
  const std::string build = file_text(HAIRLINE_SOURCE_DIR "/CMakeLists.txt");
  const std::size_t at = build.find("project(hairline VERSION ") + 25;
  CHECK(version.out == "hairline " + build.substr(at, build.find(' ', at) - at) + "\n");
}

TEST_CASE("the program alone shows its help, and says by its status that nothing was checked") {
  const Folder folder;
  const Ran alone = hairline::test::hairline({}, folder.path()),
            help = hairline::test::hairline({"--help"}, folder.path());
  CHECK(alone.status == 2);
  CHECK(alone.out.empty());
  CHECK(alone.err == help.out);
}

TEST_CASE("help fits the width, and loses no word by it") {
  const Folder folder;
  for (std::vector<std::string> call : help_calls) {
    const std::vector<std::string> words = words_of(hairline::test::hairline(call, folder.path()).out);
    call.insert(call.begin(), {"--columns", ""});
    for (const std::size_t columns : {60u, 80u, 100u, 200u}) {
      call[1] = std::to_string(columns);
      const Ran ran = hairline::test::hairline(call, folder.path());
      INFO(ran.out);
      for (const std::string& line : lines_of(ran.out)) CHECK(line.size() <= columns);
      CHECK(words_of(ran.out) == words);
    }
  }
  // On a terminal that does not know its own width, COLUMNS tells it.
  if (!fs::exists("/usr/bin/script")) {
    WARN("skipped: there is no /usr/bin/script");
    return;
  }
  const std::string call = std::string("COLUMNS=60 TERM=dumb ") + HAIRLINE_BINARY + " check --help";
  std::string shown = run({"/usr/bin/script", "-qec", call, "/dev/null"}, folder.path()).out;
  shown.erase(std::remove(shown.begin(), shown.end(), '\r'), shown.end());
  CHECK(shown == hairline::test::hairline({"--columns", "60", "check", "--help"}, folder.path()).out);
}

TEST_CASE("the bar of heights: block characters in a locale of UTF-8, plain ones in others") {
  const Folder folder;
  REQUIRE(hairline::test::hairline({"demo", "--small", "d"}, folder.path()).status == 0);
  const auto said = [&](const std::vector<std::string>& locale) {
    return hairline::test::hairline({"check", "d/rigging.zip", "--record", "d/harbour-grey.json"}, folder.path(),
                                    locale)
        .out;
  };
  for (const char* locale : {"LC_ALL=C.UTF-8", "LC_ALL=de_DE.utf8"}) CHECK(has(said({locale}), "mm ████"));
  CHECK(has(said({"LC_ALL=", "LC_CTYPE=C.UTF-8", "LANG=C"}), "mm ████"));
  for (const char* locale : {"LC_ALL=C", "LC_ALL=POSIX"}) {
    const std::string text = said({locale, "LANG=C.UTF-8"});
    CHECK(has(text, "mm ===="));
    CHECK_FALSE(has(text, "█"));
  }
}

TEST_CASE("help says of every value what it is; only what is free text is TEXT") {
  const Folder folder;
  const std::vector<std::string> free_text = {"--label", "--resin", "--printer", "--colour", "--kind", "--batch"};
  for (const std::vector<std::string>& call : help_calls)
    for (const std::string& line : lines_of(hairline::test::hairline(call, folder.path()).out)) {
      const std::vector<std::string> words = words_of(line);
      if (words.size() < 2 || words[0].rfind("--", 0) != 0) continue;
      INFO(line);
      CHECK((words[1] == "TEXT") == (std::find(free_text.begin(), free_text.end(), words[0]) != free_text.end()));
      for (const char* inner : {"UINT", "FLOAT", "INT"}) CHECK(words[1] != inner);
    }
  const std::string check_help = hairline::test::hairline({"check", "--help"}, folder.path()).out;
  for (const char* option : {"--lamp-hours HOURS", "--lamp-power PERCENT", "--irradiance mW/cm2",
                             "--temperature DEGREES", "--threads N", "--exposure S"})
    CHECK(has(check_help, option));
}

TEST_CASE("exit status follows the verdict and --fail-on") {
  const Workshop workshop;
  CHECK(check(workshop.folder, "sound.zip").status == 0);
  CHECK(check(workshop.folder, "sound.zip", {"--fail-on", "clear"}).status == 1);
  const Ran report = check(workshop.folder, "thin.zip", {"--json", "-"});
  // A wall of one pixel is lost at every time of the record: hold, though no time saves it and it carries nothing.
  CHECK(Json::parse(report.out)["verdict"] == "hold");
  CHECK(report.status == 1);
  CHECK(check(workshop.folder, "thin.zip", {"--fail-on", "never"}).status == 0);
  // A time beyond the record's 3.2 s: caution.
  const Ran beyond = check(workshop.folder, "sound.zip", {"--exposure", "3.4", "--json", "-"});
  CHECK(Json::parse(beyond.out)["verdict"] == "caution");
  CHECK(beyond.status == 0);
  CHECK(check(workshop.folder, "sound.zip", {"--exposure", "3.4", "--fail-on", "caution"}).status == 1);
  CHECK(hairline::test::hairline({"measure", "thin.zip"}, workshop.folder.path()).status == 0);
}

TEST_CASE("the thin wall is reported with its closed-form critical exposure") {
  const Workshop workshop;
  const Ran ran = check(workshop.folder, "thin.zip", {"--json", "-"});
  const Json json = Json::parse(ran.out);
  REQUIRE(json["details"].size() == 1);
  const Json& detail = json["details"][0];
  CHECK(detail["fate"] == "vanish");
  CHECK(detail["from_layer"] == 3);  // above the two base layers
  CHECK(detail["to_layer"] == 6);
  // bond_time / erf(w / (2 sqrt2 s)), docs/exposure.md, Light; the wall's ends are weaker, the median is not.
  const double expected_s = 1.6 / std::erf(0.05 / (2 * std::sqrt(2.0) * 0.04));
  CHECK(detail["critical_exposure_s"].get<double>() == Approx(expected_s).epsilon(0.005));
  CHECK(detail["avoidable"] == false);
  CHECK(json["job"]["layers"] == 6);
  CHECK(json["record"]["age_days"] == 6);
}

TEST_CASE("the option --exposure overrides the job's time") {
  const Workshop workshop;
  const Json json = Json::parse(check(workshop.folder, "thin.zip", {"--exposure", "2", "--json", "-"}).out);
  CHECK(json["exposure_s"] == 2);
  CHECK(json["job"]["normal_s"] == 2.5);
}

TEST_CASE("files and stdout hold the same bytes, the terminal report is left out only for -") {
  const Workshop workshop;
  const Ran to_file = check(workshop.folder, "thin.zip", {"--json", "r.json", "--csv", "r.csv"});
  CHECK(has(to_file.out, "mooring post"));
  const Ran json = check(workshop.folder, "thin.zip", {"--json", "-"});
  CHECK(json.out == file_text(workshop.folder / "r.json"));
  const Ran csv = check(workshop.folder, "thin.zip", {"--csv", "-"});
  CHECK(csv.out == file_text(workshop.folder / "r.csv"));
  CHECK(lines_of(csv.out).size() == 1 + job_layers);
  for (const std::string& name : workshop.folder.files()) CHECK_FALSE(has(name, ".part"));
  const Ran special = check(workshop.folder, "thin.zip", {"--json", "/dev/null", "--csv", "/dev/null"});
  CHECK(special.status == 1);
  CHECK(special.out == to_file.out);
}

TEST_CASE("the report is the same on any number of threads") {
  const Workshop workshop;
  const std::string one = check(workshop.folder, "thin.zip", {"--json", "-", "--threads", "1"}).out;
  CHECK_FALSE(one.empty());
  for (const char* threads : {"2", "3", "8"})
    CHECK(check(workshop.folder, "thin.zip", {"--json", "-", "--threads", threads}).out == one);
}

TEST_CASE("one broken job does not stop the others") {
  const Workshop workshop;
  write_file(workshop.folder / "letter.zip", "Dear harbour master,\n");
  const Ran ran =
      hairline::test::hairline({"check", "letter.zip", "sound.zip", "--record", "record.json"}, workshop.folder.path());
  CHECK(ran.status == 2);
  CHECK(has(ran.err, "letter.zip"));
  CHECK(has(ran.out, "sound.zip"));
  fs::create_directory(workshop.folder / "reports");
  const Ran several = hairline::test::hairline(
      {"check", "sound.zip", "thin.zip", "--record", "record.json", "--json", "reports"}, workshop.folder.path());
  CHECK(several.status == 1);
  CHECK(fs::exists(workshop.folder / "reports/sound.json"));
  CHECK(fs::exists(workshop.folder / "reports/thin.json"));
}

TEST_CASE("no colour and no progress where no terminal is, nothing on stderr") {
  const Workshop workshop;
  const Ran ran = check(workshop.folder, "thin.zip");
  CHECK(ran.err.empty());
  CHECK_FALSE(has(ran.out, "\x1b"));
}

TEST_CASE("reports keep to the width asked for") {
  const Workshop workshop;
  for (const std::size_t columns : {60u, 80u, 120u}) {
    for (const char* command : {"check", "sweep"}) {
      const Ran ran = hairline::test::hairline(
          {"--columns", std::to_string(columns), command, "thin.zip", "--record", "record.json"},
          workshop.folder.path());
      INFO(command << ": " << ran.status << " " << ran.err);
      REQUIRE_FALSE(ran.out.empty());
      for (const std::string& line : lines_of(ran.out)) {
        INFO(line);
        CHECK(line.size() <= columns);
      }
    }
  }
}

TEST_CASE("a closed pipe is quiet, a full disk is not") {
  const Workshop workshop;
  const std::string call = std::string(HAIRLINE_BINARY) + " check sound.zip --record record.json --today 2026-11-07";
  // The reader is gone before anything is written.
  const Ran pipe =
      run({"/bin/bash", "-c", "( sleep 0.2; " + call + "; echo status $? >&2 ) | true"}, workshop.folder.path());
  CHECK(pipe.err == "status 0\n");
  if (!fs::exists("/dev/full")) {
    WARN("skipped: there is no /dev/full");
    return;
  }
  const Ran full = run({"/bin/sh", "-c", call + " > /dev/full"}, workshop.folder.path());
  CHECK(full.status == 2);
  CHECK(has(full.err, "standard output"));
}

TEST_CASE("sweep prints the table and the suggestion; a count that begins with a zero is decimal") {
  const Workshop workshop;
  const Ran ran = hairline::test::hairline({"sweep", "thin.zip", "--record", "record.json", "--from", "2", "--to", "3",
                                            "--steps", "011", "--csv", "sweep.csv"},
                                           workshop.folder.path());
  INFO(ran.err);
  CHECK(ran.status == 1);
  CHECK(has(ran.out, "2.10 s"));
  const auto rows = lines_of(file_text(workshop.folder / "sweep.csv"));
  REQUIRE(rows.size() == 12);
  CHECK(rows[0] == "exposure_s,vanish,fuse,vanish_mm3,fuse_mm3,expected_losses,expected_mm,bulk_chance\r");
  CHECK(rows[1].rfind("2,1,0,", 0) == 0);
  CHECK(rows[11].rfind("3,1,0,", 0) == 0);
}

TEST_CASE("queue: a folder, a list, times, reports") {
  const Workshop workshop;
  fs::create_directories(workshop.folder / "tonight");
  fs::create_directories(workshop.folder / "reports");
  write_zip(workshop.folder / "tonight/job 10.zip");
  write_zip(workshop.folder / "tonight/job 9.zip", true);
  const auto queue = [&](std::vector<std::string> more) {
    std::vector<std::string> call = {"queue", "--record", "record.json"};
    call.insert(call.end(), more.begin(), more.end());
    return hairline::test::hairline(call, workshop.folder.path());
  };
  const Ran ran = queue({"tonight", "--start", "20:00", "--ready-by", "07:30", "--json", "reports"});
  INFO(ran.out << ran.err);
  CHECK(ran.status == 1);  // one of them is on hold
  CHECK(has(ran.out, "1 of 2 jobs may start; 1 is on hold."));
  CHECK(has(ran.out, "It is ready by"));
  CHECK(ran.out.find("job 10.zip") < ran.out.find("Not to be started"));
  CHECK(fs::exists(workshop.folder / "reports/job 9.json"));
  write_file(workshop.folder / "list.txt", "# tonight\ntonight/job 9.zip\n\nmissing.zip\n");
  const Ran list = queue({"list.txt"});
  CHECK(list.status == 2);
  CHECK(has(list.out, "BROKEN"));
  CHECK(has(list.out, "1 not checked"));
  fs::create_directory(workshop.folder / "void");
  CHECK(queue({"void"}).status == 2);
}

TEST_CASE("records: new, read, fit, show, plan, and picked by label") {
  const Folder folder;
  const auto record = [&](std::vector<std::string> more) {
    more.insert(more.begin(), "record");
    return hairline::test::hairline(more, folder.path());
  };
  CHECK(record({"new", "r.json", "--resin", "harbour grey", "--printer", "bench two", "--pitch", "0.05", "--date",
                "2026-11-01"})
            .status == 0);
  CHECK(record({"new", "r.json"}).status == 2);  // never over an old one
  const struct {
    const char *exposure, *wall, *slot;
  } coupons[] = {{"2.1", "0.094", "0.092"}, {"2.5", "0.072", "0.101"}, {"2.9", "0.060", "0.110"}};
  for (const auto& coupon : coupons) {
    const Ran ran = record({"read", "r.json", "--exposure", coupon.exposure, "--wall", coupon.wall, "--slot",
                            coupon.slot, "--today", "2026-11-02"});
    INFO(ran.err);
    CHECK(ran.status == 0);
  }
  const std::string before = file_text(folder / "r.json");
  for (const std::vector<std::string>& bad : {std::vector<std::string>{"--exposure", "2.3", "--wall", "-0.1"},
                                              {"--exposure", "2.3", "--wall", "thin"},
                                              {"--exposure", "2.3", "--wall", "7"},
                                              {"--exposure", "2.3", "--look", "dreadful"},
                                              {"--exposure", "2.5", "--wall", "0.3"},
                                              {"--wall", "0.1"},
                                              {}}) {
    std::vector<std::string> call = {"read", "r.json"};
    call.insert(call.end(), bad.begin(), bad.end());
    const Ran ran = record(call);
    INFO(ran.err);
    CHECK(ran.status == 2);
    CHECK(ran.out.empty());
    CHECK(lines_of(ran.err).size() == 1);
    CHECK(file_text(folder / "r.json") == before);
  }
  const Ran fit = record({"fit", "r.json", "--today", "2026-11-02"});
  INFO(fit.err);
  CHECK(fit.status == 0);
  CHECK(has(fit.out, "bond time"));
  const Ran show = record({"show", "r.json", "--today", "2026-11-07"});
  CHECK(show.status == 0);
  CHECK(has(show.out, "harbour grey"));
  CHECK(has(show.out, "w wall"));
  for (const std::string& line : lines_of(show.out)) CHECK(line.size() <= 80);
  const Ran plan = record({"plan", "r.json"});
  CHECK(plan.status == 0);
  CHECK_FALSE(plan.out.empty());
  fs::create_directory(folder / "records");
  fs::rename(folder / "r.json", folder / "records/r.json");
  write_zip(folder / "job.zip");
  CHECK(hairline::test::hairline({"check", "job.zip", "--records", "records"}, folder.path()).status < 2);
  CHECK(
      hairline::test::hairline({"check", "job.zip", "--record", "harbour grey", "--records", "records"}, folder.path())
          .status < 2);
  const Ran unknown =
      hairline::test::hairline({"check", "job.zip", "--record", "pier green", "--records", "records"}, folder.path());
  CHECK(unknown.status == 2);
  CHECK(has(unknown.err, "harbour grey"));
}

TEST_CASE("records of a folder: the newest is taken, and the list says age, use and soundness of each") {
  const Folder folder;
  const std::vector<std::string> home = {"XDG_STATE_HOME=" + (folder / "state").string()};
  const auto list = [&](const std::vector<std::string>& environment) {
    return hairline::test::hairline({"record", "list", "records", "--today", "2026-11-07"}, folder.path(), environment);
  };
  fs::create_directory(folder / "records");
  const Ran empty = list(home);
  CHECK(empty.status == 0);
  CHECK(empty.out == "There is no resin record in records; `hairline record new` makes one.\n");
  std::string older = record_text(), priced = record_text();
  older.replace(older.find("2026-11-01"), 10, "2026-10-01");
  priced.insert(priced.find("\"label\""), "\"price_per_l\": 40, ");
  priced.insert(priced.rfind("\"valid_to_s\""), "\"use\": {\"exposure_s\": 2.15, \"from_s\": 1.9, \"to_s\": 3.2}, ");
  write_file(folder / "records/older.json", older);
  write_file(folder / "records/newer.json", priced);
  write_file(folder / "records/torn.json", R"({"format": "resin-record", "version": 1,)");
  write_zip(folder / "job.zip");
  const std::vector<std::string> check = {"check",   "job.zip",    "--records", "records",
                                          "--today", "2026-11-06", "--json",    "-"};
  const Ran checked = hairline::test::hairline(check, folder.path(), home);
  INFO(checked.err);
  const Json report = Json::parse(checked.out);
  CHECK(report["record"]["file"] == "records/newer.json");
  CHECK(has(report["record"]["notes"].back(), "older: older.json (2026-10-01)."));
  // Closed form: 40 a litre.
  CHECK(report["job"]["resin_cost"].get<double>() ==
        Approx(report["job"]["resin_ml"].get<double>() / 1000 * 40).epsilon(1e-5));
  const Ran listed = list(home);
  CHECK(listed.status == 0);
  const auto lines = lines_of(listed.out);
  for (const std::string& line : lines) CHECK(line.size() <= 80);
  REQUIRE(lines.size() > 5);
  CHECK(has(lines[1], "6 days       2.15 s   sound   2026-11-06  harbour grey, bench two"));
  CHECK(has(lines[3], "37 days       2.15 s   sound   -           harbour grey, bench two"));
  CHECK(has(lines[5], "BROKEN"));
  CHECK(has(listed.out, "the file is not JSON"));
  // Nothing is written beside the records, and a place that cannot be written to stops nothing.
  CHECK(file_text(folder / "records/newer.json") == priced);
  const std::vector<std::string> nowhere = {"XDG_STATE_HOME=/dev/null"};
  CHECK(hairline::test::hairline(check, folder.path(), nowhere).out == checked.out);
  CHECK_FALSE(has(list(nowhere).out, "2026-11-06"));
  CHECK(hairline::test::hairline({"record", "list", "nowhere"}, folder.path()).status == 2);
}

TEST_CASE("coupon ends with what to do next; time and resin are those of a check") {
  const Folder folder;
  const Ran ran = hairline::test::hairline({"coupon", "c", "--pitch", "0.05", "--exposures", "2.5"}, folder.path());
  REQUIRE(ran.status == 0);
  const auto lines = lines_of(ran.out);
  REQUIRE(lines.size() == 9);  // three files, an empty line, five lines
  CHECK(has(lines[4], "coupon.stl at 0.05 mm, 5 base layers of 30 s"));
  CHECK(has(lines[7], "hairline record read"));
  CHECK(has(lines[8], "hairline record new FILE --pitch 0.05"));
  const Ran measured = hairline::test::hairline({"measure", "c/coupon-2.50s.zip", "--json", "-"}, folder.path());
  const Json job = Json::parse(measured.out)["job"];
  CHECK(has(lines[6], fmt::format("{:.1f} min, {:.1f} g each.", job["duration_s"].get<double>() / 60,
                                  job["resin_g"].get<double>())));
}

TEST_CASE("coupon --record draws the wedges for the record's own blur") {
  const Folder folder;
  const auto coupon_of = [&](const std::string& to, std::vector<std::string> more) {
    more.insert(more.begin(), {"coupon", to, "--pitch", "0.05", "--exposures", "2.5", "--base-layers", "2"});
    return hairline::test::hairline(more, folder.path());
  };
  write_file(folder / "record.json", record_text());
  fs::create_directory(folder / "records");
  write_file(folder / "records/record.json", record_text());
  CHECK(coupon_of("usual", {"--records", "records"}).status == 0);  // a folder alone asks for no record
  CHECK(coupon_of("by file", {"--record", "record.json"}).status == 0);
  CHECK(coupon_of("by label", {"--record", "Harbour Grey", "--records", "records"}).status == 0);
  const auto mask_of = [&](const std::string& name) {
    const auto job = Archive::open(folder / name / "coupon-2.50s.zip");
    REQUIRE(job.has_value());
    const auto layer = job->read_layer(20);
    REQUIRE(layer.has_value());
    return decode(*layer);
  };
  CHECK(mask_of("by file") == mask_of("by label"));
  CHECK(mask_of("by file") != mask_of("usual"));
  CHECK(file_text(folder / "by file/coupon.stl") == file_text(folder / "usual/coupon.stl"));
}

TEST_CASE("an interrupt ends the work quickly with 130 and leaves nothing behind") {
  const Folder folder;
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    const int null = ::open("/dev/null", O_RDWR);
    ::dup2(null, 0), ::dup2(null, 1), ::dup2(null, 2);
    std::signal(SIGINT, SIG_DFL);  // whatever the tests were started to ignore
    if (::chdir(folder.path().c_str()) != 0) ::_exit(126);
    ::execl(HAIRLINE_BINARY, HAIRLINE_BINARY, "demo", "harbour", static_cast<char*>(nullptr));
    ::_exit(127);
  }
  // Until it has begun to write, so that it is interrupted in the middle of its work.
  for (int wait = 0; wait < 200 && folder.files().empty(); ++wait)
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  std::this_thread::sleep_for(std::chrono::milliseconds(100));
  ::kill(child, SIGINT);
  int status = 0;
  ::waitpid(child, &status, 0);
  REQUIRE(WIFEXITED(status));
  CHECK(WEXITSTATUS(status) == 130);
  for (const std::string& name : folder.files()) CHECK_FALSE(has(name, ".part"));
  CHECK_FALSE(fs::exists(folder / "harbour/lighthouse-night.zip"));
}

TEST_CASE("a time far off the record's is asked about where another unit or a decimal point would explain it") {
  const Workshop workshop;
  const auto told = [&](const char* exposure_s) {
    const Json report = Json::parse(check(workshop.folder, "thin.zip", {"--json", "-", "--exposure", exposure_s}).out);
    return report["reasons"].dump();
  };
  CHECK(has(told("2500"), "If it is milliseconds, check again with --exposure 2.5."));
  CHECK(has(told("25"), "If its decimal point slipped, check again with --exposure 2.5."));
  CHECK(has(told("0.25"), "If its decimal point slipped, check again with --exposure 2.5."));
  CHECK_FALSE(has(told("5"), "check again with"));
}

TEST_CASE("a weaker lamp scales the record's times, a colder vat only warns") {  // dose = irradiance x time
  const Workshop workshop;
  Json record = Json::parse(file_text(workshop.folder / "record.json"));
  record["printer"]["lamp_power_percent"] = 100;
  record["conditions"]["resin_temp_c"] = 23;
  std::ofstream(workshop.folder / "record.json") << record.dump();
  const auto run = [&](const std::vector<std::string>& more) {
    std::vector<std::string> options{"--json", "-"};
    options.insert(options.end(), more.begin(), more.end());
    return Json::parse(check(workshop.folder, "thin.zip", options).out);
  };
  const Json as_made = run({}), colder = run({"--temperature", "10"}), weaker = run({"--lamp-power", "50"});
  REQUIRE_FALSE(as_made["details"].empty());
  CHECK(colder["details"] == as_made["details"]);
  CHECK(colder["record"]["notes"].size() > as_made["record"]["notes"].size());
  CHECK(weaker["record"]["notes"].size() > as_made["record"]["notes"].size());
  const double bond_s = as_made["record"]["fit"]["bond_time_s"];
  CHECK(weaker["record"]["fit"]["bond_time_s"] == Approx(2 * bond_s));
  // So are bases: one that held in 40 s needs 80 s of half the lamp.
  record["readings"]["base"] = {{{"base_s", 40}, {"layers", 5}, {"result", "held"}}};
  std::ofstream(workshop.folder / "record.json") << record.dump();
  const auto base_s = [&](const char* power) {
    return run({"--exposure", "12", "--lamp-power", power})["suggestion"]["base_s"];
  };
  CHECK(base_s("100") == 40);
  CHECK(base_s("50") == 80);
}
