// The memory of earlier checks: whatever becomes of its file, what is found is what was kept, and a run goes on.
#include <fcntl.h>
#include <sqlite3.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <csignal>
#include <fstream>
#include <thread>

#include "hairline/night.hpp"
#include "night_support.hpp"
#include "support/random.hpp"

using namespace hairline;
using namespace hairline::test;
namespace fs = std::filesystem;

namespace {

std::string value_of(int number) {
  std::string text;
  for (int i = 0; i < 500; ++i) text += std::to_string(number * 7919 + i * 104729) + ' ';
  return text;
}
std::string key_of(int number) {
  return "key" + std::to_string(number);
}

void run_sql(const std::string& file, const char* sql) {
  sqlite3* database = nullptr;
  REQUIRE(sqlite3_open(file.c_str(), &database) == SQLITE_OK);
  CHECK(sqlite3_exec(database, sql, nullptr, nullptr, nullptr) == SQLITE_OK);
  sqlite3_close(database);
}

// Whether `work` says yes in a process of its own.
template <class Work>
bool in_process(const Work& work) {
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) ::_exit(work() ? 0 : 1);
  int status = 0;
  ::waitpid(child, &status, 0);
  return WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

std::string found_text(const ReportCache& cache) {
  return cache.warning() ? to_paragraph(*cache.warning()) : "";
}

struct Kept {
  Workshop workshop;
  std::string file = workshop / "cache/reports.sqlite";
  Kept() {
    ReportCache cache = open();
    for (int i = 0; i < 20; ++i) cache.keep(key_of(i), value_of(i));
    CHECK(found_text(cache) == "");
  }
  ReportCache open() const { return ReportCache::open(workshop.path / "cache"); }
};

}  // namespace

TEST_CASE("what was kept is found again, by this run and the next") {
  const Kept kept;
  ReportCache cache = kept.open();
  for (int i = 0; i < 20; ++i) CHECK(cache.find(key_of(i)) == value_of(i));
  CHECK_FALSE(cache.find("key"));
  cache.keep(key_of(3), "anew");
  cache.keep("", "");
  ReportCache other = kept.open();
  CHECK(other.find(key_of(3)) == "anew");
  CHECK(other.find("") == "");
  CHECK(found_text(other) == "");
}

TEST_CASE("a cache that is none keeps nothing and warns of nothing") {
  ReportCache cache;
  cache.keep("key", "value");
  CHECK_FALSE(cache.find("key"));
  CHECK_FALSE(cache.warning());
}

TEST_CASE("the longest unused go when there is no more room") {
  const Workshop workshop;
  constexpr std::uint64_t most = 100'000;
  const auto noise = [](int number) {
    Random random(static_cast<std::uint64_t>(number));
    std::string text(5000, '\0');
    for (char& c : text) c = static_cast<char>(random.below(256));
    return text;
  };
  {
    ReportCache cache = ReportCache::open(workshop.path, most);
    for (int i = 0; i < 10; ++i) cache.keep(key_of(i), noise(i));
  }
  ReportCache cache = ReportCache::open(workshop.path, most);
  CHECK(cache.find(key_of(2)) == noise(2));  // used: it stays
  for (int i = 10; i < 200; ++i) {
    cache.keep(key_of(i), noise(i));
    if (i == 20) {
      CHECK(cache.find(key_of(2)) == noise(2));
      CHECK_FALSE(cache.find(key_of(0)));
    }
  }
  CHECK_FALSE(cache.find(key_of(100)));
  CHECK(cache.find(key_of(199)) == noise(199));
  CHECK(found_text(cache) == "");
  cache = ReportCache();
  CHECK(fs::file_size(workshop.path / "reports.sqlite") < most + 50'000);
  ReportCache smaller = ReportCache::open(workshop.path, 50'000);  // a bound that has become less
  CHECK(smaller.find(key_of(199)) == noise(199));
  smaller = ReportCache();
  CHECK(fs::file_size(workshop.path / "reports.sqlite") < 80'000);
}

TEST_CASE("damaged bytes are never taken for a result") {
  const Kept kept;
  run_sql(kept.file, "PRAGMA wal_checkpoint(TRUNCATE)");
  const auto sound = read_text(kept.file).value();
  Random random(19);
  int lost = 0;
  for (int round = 0; round < 60; ++round) {
    std::string bytes = sound;
    for (int i = 0; i < 1 + round % 5; ++i) {
      char& byte = bytes[random.below(static_cast<std::uint32_t>(bytes.size()))];
      byte = static_cast<char>(byte ^ (1 + round));
    }
    REQUIRE(write_text(kept.file, bytes));
    for (const char* beside : {"-wal", "-shm"}) fs::remove(kept.file + beside);
    ReportCache cache = kept.open();
    for (int i = 0; i < 20; ++i) {
      const auto found = cache.find(key_of(i));
      if (found) CHECK(*found == value_of(i));
      lost += found ? 0 : 1;
    }
  }
  CHECK(lost > 0);
}

TEST_CASE("a file that is no memory of ours is told once and left as it is") {
  const Kept kept;
  const std::string file = kept.file;
  for (const char* beside : {"", "-wal", "-shm"}) fs::remove(file + beside);
  std::string expected;
  SECTION("no database") {
    REQUIRE(write_text(
        file, "A letter of the harbour master, of some length so that it is no header.\n" + std::string(5000, 'x')));
    expected = "is damaged";
  }
  SECTION("cut off") {
    {
      ReportCache fresh = kept.open();
      for (int i = 0; i < 20; ++i) fresh.keep(key_of(i), value_of(i));
    }
    REQUIRE(write_text(file, read_text(file).value().substr(0, 6000)));
    expected = "is damaged";
  }
  SECTION("of another program") {
    run_sql(file, "CREATE TABLE letters(text); INSERT INTO letters VALUES('of the harbour master')");
    expected = "of another program";
  }
  SECTION("of another version") {
    { ReportCache fresh = kept.open(); }
    run_sql(file, "PRAGMA user_version = 2");
    expected = "of another version";
  }
  SECTION("a folder") {
    fs::create_directory(file);
    expected = "cannot be used";
  }
  const std::string before = fs::is_directory(file) ? "" : read_text(file).value();
  ReportCache cache = kept.open();
  cache.keep("new", "value");
  CHECK_FALSE(cache.find("new"));
  CHECK(found_text(cache).find(expected) != std::string::npos);
  CHECK(found_text(cache).find(file) == 0);
  if (!before.empty()) CHECK(read_text(file).value() == before);
}

TEST_CASE("a memory that may not be written is still read") {
  const Kept kept;
  run_sql(kept.file, "PRAGMA wal_checkpoint(TRUNCATE)");
  fs::permissions(kept.workshop.path, fs::perms(0755));
  fs::permissions(kept.file, fs::perms(0444));
  fs::permissions(kept.workshop.path / "cache", fs::perms(0777));
  CHECK(in_process([&] {
    if (::geteuid() == 0 && ::seteuid(65534) != 0) return false;
    ReportCache cache = kept.open();
    cache.keep("new", "value");
    return cache.find(key_of(5)) == value_of(5) && !cache.find("new") &&
           found_text(cache).find("may not be written") != std::string::npos;
  }));
  fs::permissions(kept.workshop.path / "cache", fs::perms(0555));
  CHECK(in_process([&] {  // nor may anything beside it
    if (::geteuid() == 0 && ::seteuid(65534) != 0) return false;
    ReportCache cache = kept.open();
    cache.keep("new", "value");
    const auto found = cache.find(key_of(5));
    return (!found || *found == value_of(5)) && cache.warning().has_value();
  }));
  fs::permissions(kept.workshop.path / "cache", fs::perms(0755));
}

TEST_CASE("a file that can grow no more is told, and what is in it stays whole") {
  const Kept kept;
  CHECK(in_process([&] {
    ReportCache cache = kept.open();
    ::signal(SIGXFSZ, SIG_IGN);
    const rlimit least{100'000, 100'000};
    if (::setrlimit(RLIMIT_FSIZE, &least) != 0) return false;
    for (int i = 100; i < 400 && !cache.warning(); ++i) cache.keep(key_of(i), value_of(i));
    return cache.warning().has_value();
  }));
  ReportCache cache = kept.open();
  for (int i = 0; i < 400; ++i)
    if (const auto found = cache.find(key_of(i)); found || i < 20) CHECK(found == value_of(i));
  CHECK(found_text(cache) == "");
}

TEST_CASE("several threads and several processes use one memory at once") {
  const Workshop workshop;
  const auto work = [&workshop](int from) {
    ReportCache cache = ReportCache::open(workshop.path / "new/folder");
    std::vector<std::jthread> threads;
    for (int thread = 0; thread < 2; ++thread)
      threads.emplace_back([&cache, from, thread] {
        for (int i = 0; i < 40; ++i) {
          cache.keep(key_of(from + i), value_of(from + i));  // both keep the same
          cache.find(key_of((from + 20 * thread + i) % 160));
        }
      });
    threads.clear();
    return !cache.warning();
  };
  std::vector<pid_t> children;
  for (int i = 0; i < 4; ++i) {
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) ::_exit(work(40 * i) ? 0 : 1);
    children.push_back(child);
  }
  for (const pid_t child : children) {
    int status = 0;
    ::waitpid(child, &status, 0);
    CHECK((WIFEXITED(status) && WEXITSTATUS(status) == 0));
  }
  ReportCache cache = ReportCache::open(workshop.path / "new/folder");
  for (int i = 0; i < 160; ++i) CHECK(cache.find(key_of(i)) == value_of(i));
  CHECK(found_text(cache) == "");
}

TEST_CASE("runs killed at any moment leave no wrong result and no obstacle") {
  const Workshop workshop;
  Random random(7);
  for (int round = 0; round < 20; ++round) {
    const pid_t child = ::fork();
    REQUIRE(child >= 0);
    if (child == 0) {
      ReportCache cache = ReportCache::open(workshop.path, 60'000);  // so that values go, too
      for (int i = 0;; i = (i + 1) % 100) cache.keep(key_of(i), value_of(i));
    }
    ::usleep(1000 + random.below(60'000));
    ::kill(child, SIGKILL);
    int status = 0;
    ::waitpid(child, &status, 0);
    CHECK(WIFSIGNALED(status));
    ReportCache cache = ReportCache::open(workshop.path, 60'000);
    for (int i = 0; i < 100; ++i)
      if (const auto found = cache.find(key_of(i))) CHECK(*found == value_of(i));
    cache.keep("after", "the next run");
    CHECK(cache.find("after") == "the next run");
    CHECK(found_text(cache) == "");
  }
}

TEST_CASE("the user's cache folder is that of the XDG Base Directory Specification") {
  const char* home = std::getenv("HOME");
  const std::string old_home = home == nullptr ? "" : home;
  ::setenv("HOME", "/home/quay", 1);
  ::setenv("XDG_CACHE_HOME", "/var/tmp/quay", 1);
  CHECK(user_cache() == "/var/tmp/quay/hairline");
  ::setenv("XDG_CACHE_HOME", "not/absolute", 1);  // "should be considered invalid and ignored"
  CHECK(user_cache() == "/home/quay/.cache/hairline");
  ::unsetenv("XDG_CACHE_HOME");
  ::unsetenv("HOME");
  CHECK(user_cache().empty());
  if (home != nullptr) ::setenv("HOME", old_home.c_str(), 1);
}
