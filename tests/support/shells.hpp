/// Completion scripts at work: what a shell offers for a line that ends where the cursor is.
#pragma once
#include <iostream>
#include <set>
#include <string>
#include <vector>

#include "support/run_binary.hpp"

namespace hairline::test {

using Words = std::set<std::string>;

/// Where the shell is, or empty, having said that the check is skipped.
inline std::string find_shell(const std::string& name) {
  for (const char* folder : {"/usr/bin/", "/bin/", "/usr/local/bin/"})
    if (std::filesystem::exists(folder + name)) return folder + name;
  std::cout << "skipped: " << name << " is not installed\n";
  return {};
}

inline Words words_of(const Ran& ran) {
  Words words;
  std::istringstream lines(ran.out);
  for (std::string line; std::getline(lines, line);) words.insert(line.substr(0, line.find('\t')));
  words.erase("");
  if (ran.status != 0 || !ran.err.empty()) words.insert("failed: " + ran.err);
  return words;
}

/// `words` are those of the line as bash cuts it, the last one being typed; `script` is in `folder`, as are the files.
inline Words bash_offers(const Folder& folder, const std::string& script, std::vector<std::string> words) {
  words.insert(words.begin(),
               {"/bin/bash", "--norc", "-c",
                "source \"./$1\"; shift; complete -p hairline | grep -q -- '-F _hairline' || exit 1\n"
                "COMP_WORDS=(\"$@\") COMP_CWORD=$(($# - 1)); _hairline; printf '%s\\n' \"${COMPREPLY[@]}\"",
                "bash", script});
  return words_of(run(words, folder.path()));
}

inline Words fish_offers(const std::string& fish, const Folder& folder, const std::string& script,
                         const std::string& line) {
  return words_of(run({fish, "--no-config", "-c", "source $argv[1]; complete -C $argv[2]", script, line}, folder.path(),
                      {"HOME=/nonexistent"}));
}

/// In an interactive zsh on a terminal of its own, whose `compadd` notes down what it is given.
inline Words zsh_offers(const std::string& zsh, const Folder& folder, const std::string& script,
                        const std::string& line) {
  const Folder home;
  write_file(home / ".zshrc", R"(PS1= LISTMAX=10000
autoload -Uz compinit && compinit -D -u && source ./$SCRIPT
compadd() {
  if [[ "$*" != *-[OAD]* ]]; then
    local -a found
    builtin compadd -O found "$@"
    print -l -- $found >> $ZDOTDIR/offered
  fi
  builtin compadd "$@"
}
)");
  run({zsh, "-fc", R"(zmodload zsh/zpty
zpty shell zsh -di
zpty -n -w shell "$1"$'\t\C-a\C-kexit\n'
while zpty -r shell; do :; done)",
       "zsh", line},
      folder.path(), {"ZDOTDIR=" + home.path().string(), "SCRIPT=" + script, "TERM=dumb"});
  Ran offered;
  offered.out = file_text(home / "offered");
  offered.status = 0;
  return words_of(offered);
}

}  // namespace hairline::test
