// The desk as it is started and ended; what it answers is tested in tests/unit/desk, its pages in tests/page.
#include <fmt/format.h>

#include <catch2/catch.hpp>

#include "support/process.hpp"

using namespace hairline::test;

TEST_CASE("the desk prints an address with a token, and Ctrl-C closes it") {
  const Folder folder;
  Process desk({"desk", ".", "--no-open"}, folder.path(), Process::On::terminal);
  REQUIRE(desk.shows("Ctrl-C ends it."));
  desk.kill(SIGINT);
  const Ran ran = desk.end();
  CHECK(ran.status == 0);
  const auto at = ran.out.find("http://127.0.0.1:");
  REQUIRE(at != std::string::npos);
  CHECK(ran.out.find("/?token=", at) != std::string::npos);
  CHECK(ran.out.find("The desk is closed.") != std::string::npos);
}

TEST_CASE("two desks may be open over one folder, but not on one port") {
  const Folder folder;
  Process first({"desk", ".", "--no-open"}, folder.path(), Process::On::terminal);
  Process second({"desk", ".", "--no-open"}, folder.path(), Process::On::terminal);
  REQUIRE(first.shows("Ctrl-C ends it."));
  REQUIRE(second.shows("Ctrl-C ends it."));
  first.kill(SIGTERM);
  const Ran ran = first.end();
  second.kill(SIGTERM);
  second.end();
  const auto at = ran.out.find("127.0.0.1:") + 10;
  const std::string port = ran.out.substr(at, ran.out.find('/', at) - at);
  Process third({"desk", ".", "--no-open", "--port", port}, folder.path(), Process::On::terminal);
  REQUIRE(third.shows("127.0.0.1:" + port + "/"));  // it was given back
  const Ran fourth = hairline::test::hairline({"desk", ".", "--no-open", "--port", port}, folder.path());
  CHECK(fourth.status == 2);
  CHECK(fourth.err.find("port " + port + " cannot be taken") != std::string::npos);
  CHECK(fourth.err.find("--port 0") != std::string::npos);
}

TEST_CASE("a desk needs a folder that is there") {
  const Folder folder;
  const Ran ran = hairline::test::hairline({"desk", "nowhere", "--no-open"}, folder.path());
  CHECK(ran.status == 2);
  CHECK(ran.err.find("nowhere: there is no such folder") != std::string::npos);
  CHECK(folder.files().empty());
  CHECK(hairline::test::hairline({"desk", ".", "--port", "70000"}, folder.path()).status == 2);
  CHECK(hairline::test::hairline({"desk"}, folder.path()).status == 2);
}
