#include "desk/folder.hpp"

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>

#include "desk/routes.hpp"
#include "desk/shared.hpp"
#include "hairline/files.hpp"
#include "unit/queue/night_support.hpp"

using namespace hairline;
using namespace hairline::desk;
namespace fs = std::filesystem;

namespace {

struct Fresh : test::Workshop {
  void file(const std::string& name, const std::string& text = "x") const {
    fs::create_directories((path / name).parent_path());
    std::ofstream(path / name) << text;
  }
};

}  // namespace

TEST_CASE("jobs are the archives and folders of masks that lie in the folder itself") {
  const Fresh fresh;
  for (const char* name : {"b10.zip", "b2.ZIP", "plate.3mf", "masks/0001.png", "own/manifest.json", "notes.txt",
                           "grey.json", "deeper/gallery.zip", "desk/cache/x.zip", ".hidden.zip"})
    fresh.file(name);
  const auto folder = Folder::open(fresh.path);
  REQUIRE(folder);
  CHECK(folder->jobs() == std::vector<std::string>{"b2.ZIP", "b10.zip", "masks", "own", "plate.3mf"});
  CHECK(folder->job("b10.zip").value() == fs::canonical(fresh.path) / "b10.zip");
  for (const char* name : {"", ".", "..", "desk", "notes.txt", "deeper/gallery.zip", "../", "b11.zip", "/etc/passwd"}) {
    INFO(name);
    const auto job = folder->job(name);
    REQUIRE(!job);
    CHECK(job.error().kind == ErrorKind::not_found);
  }
}

TEST_CASE("records are found by their file's name alone") {
  const Fresh fresh;
  fresh.file("grey.json", R"({"format": "resin-record", "version": 1, "resin": {"label": "harbour grey"}})");
  fresh.file("...json", R"({"format": "resin-record", "version": 1})");  // its stem leads out of a folder
  fresh.file("other.json", R"({"format": "print-queue", "version": 1})");
  fresh.file("deep/grey2.json", R"({"format": "resin-record", "version": 1})");
  const auto folder = Folder::open(fresh.path);
  REQUIRE(folder);
  CHECK(folder->record("grey.json").value() == fs::canonical(fresh.path) / "grey.json");
  for (const char* name : {"", "other.json", "...json", "deep/grey2.json", "../grey.json", "grey2.json"})
    CHECK(folder->record(name).error().kind == ErrorKind::not_found);
}

TEST_CASE("foreign names become files of the folder, and none is written over") {
  const Fresh fresh;
  fresh.file("hull.zip");
  const auto folder = Folder::open(fresh.path);
  REQUIRE(folder);
  const auto name = [&](const std::string& foreign) { return folder->place_for(foreign).value().filename().string(); };
  CHECK(name("gallery.zip") == "gallery.zip");
  CHECK(name("hull.zip") == "hull 2.zip");
  fresh.file("hull 2.zip");
  CHECK(name("hull.zip") == "hull 3.zip");
  CHECK(name("../../etc/cron.zip") == "cron.zip");
  CHECK(name("C:\\prints\\mast.zip") == "mast.zip");
  CHECK(name(".bashrc.zip") == "bashrc.zip");
  CHECK(name("lamp\nroom\x01.zip") == "lamp-room-.zip");
  const std::string longest = name(std::string(300, 'a') + ".zip");
  CHECK(longest.size() <= 120);
  CHECK(longest.ends_with(".zip"));
  const std::string wide = name([] {
    std::string text;
    for (int i = 0; i < 100; ++i) text += "\xc3\xa9";
    return text + ".zip";
  }());
  CHECK(wide.size() <= 120);
  CHECK(valid_utf8(wide) == wide);
  for (const char* none : {"", "..", "/", "...", "a/..", "desk"}) CHECK(!folder->place_for(none));
  for (const char* foreign : {"../../x.zip", "/etc/x.zip", "a/b/c.zip"})
    CHECK(folder->place_for(foreign).value().parent_path() == fs::canonical(fresh.path));
}

TEST_CASE("a folder that is none, or must not be written, is an error that names it") {
  const Fresh fresh;
  const auto missing = Folder::open(fresh.path / "nowhere");
  REQUIRE(!missing);
  CHECK(missing.error().kind == ErrorKind::not_found);
  fresh.file("a.zip");
  CHECK(Folder::open(fresh.path / "a.zip").error().kind == ErrorKind::not_found);
  fresh.file("blocked/desk");  // a file where the desk's own folder goes
  CHECK(Folder::open(fresh.path / "blocked").error().kind == ErrorKind::unwritable);
}

TEST_CASE("a refusal says why in the library's words") {
  const Answer answer =
      refusal(Error{ErrorKind::not_found, "hull\x01.zip", "there is no such job", "one", "Look again."});
  CHECK(answer.status == 404);
  CHECK(answer.body.find(R"("kind":"not_found")") != std::string::npos);
  CHECK(answer.body.find("there is no such job") != std::string::npos);
  CHECK(answer.body.find('\x01') == std::string::npos);
}
