// Files: read, written aside and renamed, tried before the long work.
#include "hairline/files.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <string>

#include "base/file_lock.hpp"
#include "base/json_files.hpp"
#include "base/output_file.hpp"

using namespace hairline;
namespace fs = std::filesystem;

namespace {

struct TempFolder {
  fs::path path;
  TempFolder() {
    std::string name = (fs::temp_directory_path() / "hairline-base-XXXXXX").string();
    REQUIRE(::mkdtemp(name.data()) != nullptr);
    path = name;
  }
  ~TempFolder() {
    std::error_code ignored;
    fs::remove_all(path, ignored);
  }
  std::size_t entries() const {
    return static_cast<std::size_t>(std::distance(fs::directory_iterator(path), fs::directory_iterator()));
  }
};

}  // namespace

TEST_CASE("text is written, replaced and read back") {
  const TempFolder folder;
  const fs::path path = folder.path / "note.txt";
  const std::string text("a\0b\r\n\xFF", 6);
  REQUIRE(write_text(path, text));
  CHECK(read_text(path).value() == text);
  REQUIRE(write_text(path, ""));
  CHECK(read_text(path).value().empty());
  CHECK(folder.entries() == 1);
}

TEST_CASE("the JSON files of a folder by name") {
  const TempFolder folder;
  for (const char* name : {"job 10.json", "job 9.json", "notes.txt"}) REQUIRE(write_text(folder.path / name, "{}"));
  REQUIRE(fs::create_directory(folder.path / "job 1.json"));
  CHECK(json_files_in(folder.path, "jobs").value() ==
        std::vector<fs::path>{folder.path / "job 9.json", folder.path / "job 10.json"});
  CHECK(json_files_in(folder.path / "none", "jobs").error().kind == ErrorKind::not_found);
  const auto file = json_files_in(folder.path / "notes.txt", "jobs");
  CHECK(file.error().kind == ErrorKind::unreadable);
  CHECK(file.error().expected == "jobs");
}

TEST_CASE("a file given another name when it is whole never takes the place of one that is there") {
  const TempFolder folder;
  REQUIRE(write_text(folder.path / "first", "kept"));
  {
    OutputFile output;
    REQUIRE(output.open(folder.path / "first"));
    REQUIRE(output.write("new"));
    CHECK(output.finish_as(folder.path / "first").value() == false);
    CHECK(read_text(folder.path / "first").value() == "kept");
    CHECK(output.finish_as(folder.path / "second").value() == true);
  }
  CHECK(read_text(folder.path / "first").value() == "kept");
  CHECK(read_text(folder.path / "second").value() == "new");
  CHECK(folder.entries() == 2);
}

TEST_CASE("a text is written part by part; what goes wrong half-way leaves the old one") {
  const TempFolder folder;
  const fs::path path = folder.path / "parts.txt";
  REQUIRE(write_text(path, [](const TextSink& sink) {
    CHECK(sink("one, "));
    CHECK(sink(""));
    CHECK(sink("two"));
  }));
  CHECK(read_text(path).value() == "one, two");
  CHECK(folder.entries() == 1);

  // Files may not grow beyond a few pages: writing fails half-way.
  struct Limited {
    ::rlimit before{};
    Limited() {
      std::signal(SIGXFSZ, SIG_IGN);
      ::getrlimit(RLIMIT_FSIZE, &before);
      const ::rlimit small{16384, before.rlim_max};
      ::setrlimit(RLIMIT_FSIZE, &small);
    }
    ~Limited() {
      ::setrlimit(RLIMIT_FSIZE, &before);
      std::signal(SIGXFSZ, SIG_DFL);
    }
  };
  const std::string block(8192, 'x');
  int taken = 0;
  Result<void> cut;
  {
    const Limited limited;
    cut = write_text(path, [&](const TextSink& sink) {
      while (taken < 100 && sink(block)) ++taken;
    });
  }
  REQUIRE_FALSE(cut);
  CHECK(cut.error().kind == ErrorKind::unwritable);
  CHECK_THAT(cut.error().advice, Catch::Contains("ulimit -f"));
  CHECK(taken < 100);
  CHECK(read_text(path).value() == "one, two");
  CHECK(folder.entries() == 1);
}

TEST_CASE("reading says why it cannot") {
  const TempFolder folder;
  CHECK(read_text(folder.path / "none").error().kind == ErrorKind::not_found);
  CHECK(read_text(folder.path).error().kind == ErrorKind::unreadable);
  CHECK(read_text("/dev/zero").error().kind == ErrorKind::unreadable);  // never ends: must not be read
  REQUIRE(write_text(folder.path / "five", "12345"));
  CHECK(read_text(folder.path / "five", 5).value() == "12345");
  CHECK(read_text(folder.path / "five", 4).error().kind == ErrorKind::limit);
  CHECK(read_text(folder.path / "five" / "inside").error().kind == ErrorKind::not_found);
}

TEST_CASE("a file without rights is unreadable and unwritable") {
  if (::geteuid() == 0) {
    std::cout << "skipped: rights do not bind the superuser\n";
    return;
  }
  const TempFolder folder;
  const fs::path path = folder.path / "locked";
  REQUIRE(write_text(path, "x"));
  fs::permissions(path, fs::perms::none);
  CHECK(read_text(path).error().kind == ErrorKind::unreadable);
  CHECK(check_writable(path).error().kind == ErrorKind::unwritable);
}

TEST_CASE("an output is tried without a trace") {
  const TempFolder folder;
  const fs::path path = folder.path / "out.json";
  CHECK(check_writable(path));
  CHECK(folder.entries() == 0);
  REQUIRE(write_text(path, "old"));
  CHECK(check_writable(path));
  CHECK(read_text(path).value() == "old");
  CHECK(folder.entries() == 1);
}

TEST_CASE("an output that cannot be written is refused") {
  const TempFolder folder;
  CHECK(check_writable(folder.path).error().kind == ErrorKind::unwritable);
  CHECK(check_writable(folder.path / "none" / "out").error().kind == ErrorKind::unwritable);
  CHECK(check_writable(folder.path / "").error().kind == ErrorKind::unwritable);
  CHECK(check_writable(folder.path / std::string(300, 'n')).error().kind == ErrorKind::unwritable);
  CHECK(write_text(folder.path / "none" / "out", "x").error().kind == ErrorKind::unwritable);
  CHECK(write_text("/proc/no-such-output", "x").error().kind == ErrorKind::unwritable);
  CHECK(folder.entries() == 0);
}

TEST_CASE("a failed write leaves the old file and nothing else") {
  const TempFolder folder;
  const fs::path path = folder.path / "report";
  REQUIRE(write_text(path, "old"));
  const auto lost = write_text(path, [&](const TextSink& sink) {
    sink("new");
    for (const auto& entry : fs::directory_iterator(folder.path))  // somebody clears away what is being written
      if (entry.path() != path) fs::remove(entry.path());
  });
  REQUIRE_FALSE(lost);
  CHECK(lost.error().kind == ErrorKind::unwritable);
  CHECK(read_text(path).value() == "old");
  CHECK(folder.entries() == 1);
}

TEST_CASE("what lies beside an output is nobody's business") {
  const TempFolder folder;
  REQUIRE(write_text(folder.path / "report.part", "a person's"));
  REQUIRE(write_text(folder.path / "report", "new"));
  CHECK(read_text(folder.path / "report.part").value() == "a person's");
  CHECK(read_text(folder.path / "report").value() == "new");
  CHECK(folder.entries() == 2);
  const std::string longest(255, 'n');  // of a name in most file systems
  REQUIRE(write_text(folder.path / longest, "new"));
  CHECK(folder.entries() == 3);
}

TEST_CASE("the rights of a file stay, those of a new one are what the umask leaves") {
  const TempFolder folder;
  const ::mode_t before = ::umask(027);
  REQUIRE(write_text(folder.path / "new", "x"));
  REQUIRE(write_text(folder.path / "kept", "x"));
  fs::permissions(folder.path / "kept", fs::perms::owner_read | fs::perms::owner_write | fs::perms::others_read);
  REQUIRE(write_text(folder.path / "kept", "y"));
  ::umask(before);
  CHECK(fs::status(folder.path / "new").permissions() == static_cast<fs::perms>(0640));
  CHECK(fs::status(folder.path / "kept").permissions() == static_cast<fs::perms>(0604));
}

TEST_CASE("leftovers are removed by name and age, and only where nobody holds them") {
  const TempFolder folder;
  const auto made = [&](const char* name, bool old) {
    std::ofstream(folder.path / name) << "x";
    if (old) fs::last_write_time(folder.path / name, fs::file_time_type::clock::now() - std::chrono::hours(1));
    return folder.path / name;
  };
  const fs::path left = made(".hairline-ab12cd.part", true), held = made(".hairline-ab12ce.part", true),
                 young = made(".hairline-ab12cf.part", false), other = made("report.part", true),
                 longer = made(".hairline-ab12cde.part", true);
  fs::create_directory(folder.path / ".hairline-ab12cg.part");
  const int holder = ::open(held.c_str(), O_RDONLY);
  REQUIRE(::flock(holder, LOCK_EX | LOCK_NB) == 0);
  REQUIRE(write_text(folder.path / "report", "new"));
  ::close(holder);
  CHECK_FALSE(fs::exists(left));
  for (const fs::path& kept : {held, young, other, longer}) CHECK(fs::exists(kept));
  CHECK(folder.entries() == 6);
}

TEST_CASE("two writers at one file: each is whole, the last one stays") {
  const TempFolder folder;
  const fs::path path = folder.path / "report";
  REQUIRE(write_text(path, [&](const TextSink& sink) {
    sink("fir");
    REQUIRE(write_text(path, "second"));
    CHECK(read_text(path).value() == "second");
    sink("st");
  }));
  CHECK(read_text(path).value() == "first");
  CHECK(folder.entries() == 1);
}

TEST_CASE("links are written through and devices never replaced") {
  const TempFolder folder;
  REQUIRE(write_text(folder.path / "real", "old"));
  fs::create_symlink("real", folder.path / "link");
  REQUIRE(write_text(folder.path / "link", "new"));
  CHECK(fs::is_symlink(folder.path / "link"));
  CHECK(read_text(folder.path / "real").value() == "new");
  fs::create_directory(folder.path / "sub");
  fs::create_symlink("../made", folder.path / "sub/dangling");  // to no file yet
  REQUIRE(write_text(folder.path / "sub/dangling", "new"));
  CHECK(fs::is_symlink(folder.path / "sub/dangling"));
  CHECK(read_text(folder.path / "made").value() == "new");
  fs::create_symlink("loop", folder.path / "loop");
  CHECK(write_text(folder.path / "loop", "x").error().kind == ErrorKind::unwritable);
  fs::create_symlink("/dev/null", folder.path / "null");
  REQUIRE(write_text(folder.path / "null", "gone"));
  CHECK(fs::is_character_file("/dev/null"));
}

TEST_CASE("a descriptor is written where it stands") {
  const TempFolder folder;
  const int file = ::open((folder.path / "out").c_str(), O_WRONLY | O_CREAT, 0600);
  REQUIRE(::write(file, "one ", 4) == 4);
  REQUIRE(write_text("/dev/fd/" + std::to_string(file), "two"));
  ::close(file);
  CHECK(read_text(folder.path / "out").value() == "one two");
  CHECK(folder.entries() == 1);
}

TEST_CASE("a lock is waited for, beside the file that links lead to, and harms no file of its name") {
  const TempFolder folder;
  REQUIRE(write_text(folder.path / "real", "x"));
  fs::create_symlink("real", folder.path / "link");
  {
    FileLock first;
    REQUIRE(first.take(folder.path / "link"));
    CHECK(first.guards());
    CHECK(read_text(folder.path / "real.lock").value() == std::to_string(::getpid()) + "\n");
    Progress stopped;
    stopped.cancel();
    FileLock second;
    CHECK(second.take(folder.path / "real", &stopped).error().kind == ErrorKind::cancelled);
  }
  FileLock again;
  CHECK(again.take(folder.path / "real"));
  CHECK(fs::exists(folder.path / "real.lock"));

  REQUIRE(write_text(folder.path / "other.lock", "a person's notes"));
  FileLock beside;
  CHECK(beside.take(folder.path / "other"));
  CHECK(read_text(folder.path / "other.lock").value() == "a person's notes");
  fs::create_symlink("real", folder.path / "linked.lock");
  REQUIRE(::mkfifo((folder.path / "pipe.lock").c_str(), 0600) == 0);
  fs::create_directory(folder.path / "folder.lock");
  for (const char* name : {"linked", "pipe", "folder", "none/x"}) {
    INFO(name);
    FileLock none;
    const auto taken = none.take(folder.path / name);
    REQUIRE_FALSE(taken);
    CHECK(taken.error().kind == ErrorKind::unwritable);
  }
  CHECK(read_text(folder.path / "real").value() == "x");
}

TEST_CASE("a folder is made with those above it; a file in the way is told") {
  const TempFolder folder;
  REQUIRE(make_folder(folder.path / "a/b"));
  CHECK(fs::is_directory(folder.path / "a/b"));
  CHECK(make_folder(folder.path / "a/b"));  // there already
  REQUIRE(write_text(folder.path / "note", "old"));
  for (const char* place : {"note", "note/b"}) {
    const auto made = make_folder(folder.path / place);
    REQUIRE_FALSE(made);
    CHECK(made.error().kind == ErrorKind::unwritable);
    CHECK(made.error().file == (folder.path / place).string());
  }
}
