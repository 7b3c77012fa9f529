// The program's own completion scripts against its own help.
#include <catch2/catch.hpp>
#include <regex>

#include "support/shells.hpp"

using namespace hairline::test;

namespace {

Words found(const std::string& text, const std::string& pattern) {
  const std::regex expression(pattern, std::regex::multiline);
  Words words;
  for (std::sregex_iterator at(text.begin(), text.end(), expression), end; at != end; ++at) words.insert((*at)[1]);
  return words;
}

// A command's help and completions name the same options and commands; then those below.
void compare(const Folder& folder, std::vector<std::string> path, int& compared) {
  std::vector<std::string> call(path.begin() + 1, path.end());
  call.push_back("--help");
  const std::string help = hairline::test::hairline(call, folder.path()).out;
  const std::size_t list = help.find("Subcommands:"), end = help.find("Examples:");
  INFO(help);
  path.push_back("--");
  CHECK(bash_offers(folder, "bash", path) == found(help.substr(0, list), "^  (?:-[a-z],)?(--[a-z-]+)"));
  ++compared;
  if (list == std::string::npos) return;
  const Words below = found(help.substr(list, end - list), "^  ([a-z]+) ");
  path.back() = "";
  Words offered = below;
  if (help.find("Positionals:") < list) offered.insert("bash");  // the one file of the folder
  CHECK(bash_offers(folder, "bash", path) == offered);
  for (const std::string& name : below) {
    path.back() = name;
    compare(folder, path, compared);
  }
}

}  // namespace

TEST_CASE("completions name every command and option of the help, and no other") {
  const Folder folder;
  const Ran script = hairline::test::hairline({"completions", "bash"}, folder.path());
  REQUIRE(script.status == 0);
  write_file(folder / "bash", script.out);
  int compared = 0;
  compare(folder, {"hairline"}, compared);
  CHECK(compared >= 13);
  CHECK(bash_offers(folder, "bash", {"hairline", "check", "--fail-on", "c"}) == Words{"clear", "caution"});
  CHECK(bash_offers(folder, "bash", {"hairline", "record", "read", "b"}) == Words{"bash"});
  CHECK(bash_offers(folder, "bash", {"hairline", "record", "read", "--base-result", ""}) ==
        Words{"lifted", "held", "welded"});
}

TEST_CASE("zsh and fish can read their completions") {
  const Folder folder;
  for (const char* name : {"zsh", "fish"}) {
    const Ran script = hairline::test::hairline({"completions", name}, folder.path());
    CHECK(script.status == 0);
    CHECK(script.err.empty());
    write_file(folder / name, script.out);
    const std::string shell = find_shell(name);
    if (shell.empty()) continue;
    const Ran read = run({shell, "-n", name}, folder.path(), {"HOME=/nonexistent"});
    CHECK(read.status == 0);
    CHECK(read.err.empty());
  }
}

TEST_CASE("another shell is refused") {
  const Folder folder;
  const Ran ran = hairline::test::hairline({"completions", "csh"}, folder.path());
  CHECK(ran.status == 2);
  CHECK(ran.err.find("expected bash, zsh or fish") != std::string::npos);
}
