// Files: read, written aside and renamed, tried before the long work.
#include "hairline/files.hpp"

#include <sys/resource.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <string>

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
  fs::create_directory(folder.path / "report.part");  // in the way of the file written aside
  CHECK(write_text(path, "new").error().kind == ErrorKind::unwritable);
  CHECK(read_text(path).value() == "old");
  CHECK(folder.entries() == 2);
}

TEST_CASE("links are written through and devices never replaced") {
  const TempFolder folder;
  REQUIRE(write_text(folder.path / "real", "old"));
  fs::create_symlink("real", folder.path / "link");
  REQUIRE(write_text(folder.path / "link", "new"));
  CHECK(fs::is_symlink(folder.path / "link"));
  CHECK(read_text(folder.path / "real").value() == "new");
  fs::create_symlink("/dev/null", folder.path / "null");
  REQUIRE(write_text(folder.path / "null", "gone"));
  CHECK(fs::is_character_file("/dev/null"));
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
