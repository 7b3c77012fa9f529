// What the completion scripts of a small tree of options offer, asked of the shells themselves.
#include "cli/completion_script.hpp"

#include <catch2/catch.hpp>

#include "support/shells.hpp"

using namespace hairline::cli;
using namespace hairline::test;

namespace {

// Texts hold what shells give a meaning to.
void add_tree(CLI::App& app) {
  app.add_flag("--plain,-p")->description("No [colour]: it's `plain`");
  app.add_option("--hidden")->group("");
  CLI::App& weigh = *app.add_subcommand("weigh", "Weigh \"a\" buoy\nor two; 5 % off, $HOME");
  weigh.add_option("file")->type_name("JOB");
  weigh.add_option("--unit,-u", "The unit: [g] or [kg]")->type_name("gram|kilo-gram");
  weigh.add_option("--to", "Where to")->type_name("DIR");
  weigh.add_option("--limit", "Up to")->type_name("G");
  CLI::App& log = *app.add_subcommand("log", "The log");
  log.add_subcommand("weigh", "Weigh the log")->add_option("--from", "From")->type_name("FILE|LABEL");
  app.add_subcommand("secret", "Not shown")->group("");
}

struct Tree {
  CLI::App app{"", "hairline"};
  Folder folder;
  Tree() {
    add_tree(app);
    write_file(folder / "a buoy.zip", "");
    write_file(folder / "boats/b.zip", "");
    for (const auto& [name, shell] : {std::pair{"bash", Shell::bash}, {"zsh", Shell::zsh}, {"fish", Shell::fish}})
      write_file(folder / name, completion_script(app, shell));
  }
};

const Words everything{"a buoy.zip", "bash", "boats", "fish", "zsh"};

}  // namespace

TEST_CASE("bash offers commands, options, words, files and folders") {
  const Tree tree;
  const auto offers = [&](const std::vector<std::string>& words) { return bash_offers(tree.folder, "bash", words); };
  CHECK(offers({"hairline", ""}) == Words{"weigh", "log"});
  CHECK(offers({"hairline", "w"}) == Words{"weigh"});
  CHECK(offers({"hairline", "-"}) == Words{"-h", "--help", "-p", "--plain"});
  CHECK(offers({"hairline", "--plain", "l"}) == Words{"log"});
  CHECK(offers({"hairline", "weigh", ""}) == everything);
  CHECK(offers({"hairline", "weigh", "a"}) == Words{"a buoy.zip"});
  CHECK(offers({"hairline", "weigh", "--"}) == Words{"--help", "--unit", "--to", "--limit"});
  CHECK(offers({"hairline", "weigh", "--unit", ""}) == Words{"gram", "kilo-gram"});
  CHECK(offers({"hairline", "weigh", "-u", "k"}) == Words{"kilo-gram"});
  CHECK(offers({"hairline", "weigh", "--unit", "="}) == Words{"gram", "kilo-gram"});
  CHECK(offers({"hairline", "weigh", "--unit", "=", "g"}) == Words{"gram"});
  CHECK(offers({"hairline", "weigh", "a buoy.zip", "--to", ""}) == Words{"boats"});
  CHECK(offers({"hairline", "weigh", "--limit", ""}).empty());
  CHECK(offers({"hairline", "log", ""}) == Words{"weigh"});
  CHECK(offers({"hairline", "log", "weigh", "--"}) == Words{"--help", "--from"});
  CHECK(offers({"hairline", "log", "weigh", "--from", "b"}) == Words{"bash", "boats"});
  CHECK(offers({"hairline", "log", "weigh", ""}).empty());
}

TEST_CASE("fish offers commands, options, words, files and folders") {
  const std::string fish = find_shell("fish");
  if (fish.empty()) return;
  const Tree tree;
  const auto offers = [&](const std::string& line) { return fish_offers(fish, tree.folder, "fish", line); };
  CHECK(offers("hairline ") == Words{"weigh", "log"});
  CHECK(offers("hairline --") == Words{"--help", "--plain"});
  CHECK(offers("hairline weigh a") == Words{"a buoy.zip"});
  CHECK(offers("hairline weigh --") == Words{"--help", "--unit", "--to", "--limit"});
  CHECK(offers("hairline weigh --unit ") == Words{"gram", "kilo-gram"});
  CHECK(offers("hairline weigh --to ") == Words{"boats/"});
  CHECK(offers("hairline weigh --limit ").empty());
  CHECK(offers("hairline log ") == Words{"weigh"});
  CHECK(offers("hairline log weigh --") == Words{"--help", "--from"});
  CHECK(offers("hairline log weigh --from b") == Words{"bash", "boats/"});
  const Ran texts =
      run({fish, "--no-config", "-c", "source fish; complete -C 'hairline w'; complete -C 'hairline --p'"},
          tree.folder.path(), {"HOME=/nonexistent"});
  CHECK(texts.out == "weigh\tWeigh \"a\" buoy or two; 5 % off, $HOME\n--plain\tNo [colour]: it's `plain`\n");
}

TEST_CASE("zsh offers commands, options, words, files and folders") {
  const std::string zsh = find_shell("zsh");
  if (zsh.empty()) return;
  const Tree tree;
  const auto offers = [&](const std::string& line) { return zsh_offers(zsh, tree.folder, "zsh", line); };
  CHECK(offers("hairline ") == Words{"weigh", "log"});
  CHECK(offers("hairline --") == Words{"--help", "--plain"});
  CHECK(offers("hairline weigh a") == Words{"a buoy.zip"});
  CHECK(offers("hairline weigh --") == Words{"--help", "--unit", "--to", "--limit"});
  CHECK(offers("hairline weigh --unit ") == Words{"gram", "kilo-gram"});
  CHECK(offers("hairline weigh --unit=k") == Words{"kilo-gram"});
  CHECK(offers("hairline weigh --to ") == Words{"boats"});
  CHECK(offers("hairline weigh --limit ").empty());
  CHECK(offers("hairline log ") == Words{"weigh"});
  CHECK(offers("hairline log weigh --") == Words{"--help", "--from"});
  CHECK(offers("hairline log weigh --from b") == Words{"bash", "boats"});
}

TEST_CASE("hidden commands and options are in no script") {
  const Tree tree;
  for (const char* name : {"bash", "zsh", "fish"}) {
    const std::string script = file_text(tree.folder / name);
    CHECK(script.find("secret") == std::string::npos);
    CHECK(script.find("hidden") == std::string::npos);
    CHECK(script.find("weigh") != std::string::npos);
  }
}
