#include "completion_script.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

#include "../base/ascii.hpp"

namespace hairline::cli {
namespace {

using Strings = std::vector<std::string>;

// ---- the options as values ----

struct Value {
  std::string type;  // as in the help; empty: takes none
  Strings words;     // to choose from
  bool files = false, folders = false;
};

struct Argument {
  Strings names;  // -h, --help; none for what stands without an option
  std::string help;
  Value value;
};

struct Command {
  struct Below {
    std::string name, help;
  };
  std::string path;  // "hairline record new"
  std::vector<Argument> options;
  Value place;  // what stands without an option
  std::vector<Below> below;
};

Value value_of(const CLI::Option& option) {
  Value value;
  if (option.get_items_expected_max() == 0) return value;
  value.type = option.get_type_name();
  for (const std::string& piece : cut_at(value.type, '|')) {
    value.files |= piece == "FILE" || piece == "JOB" || piece == "PATH";
    value.folders |= piece == "DIR";
    if (piece.find_first_not_of("abcdefghijklmnopqrstuvwxyz-") == std::string::npos) value.words.push_back(piece);
  }
  return value;
}

std::string one_line(std::string text) {
  std::replace(text.begin(), text.end(), '\n', ' ');
  return text;
}

// A command, then all below it.
void list_commands(const CLI::App& app, const std::string& above, std::vector<Command>& list) {
  const auto shown = [](const auto* item) { return !item->get_group().empty(); };
  Command command{above + app.get_name(), {}, {}, {}};
  for (const CLI::Option* option : app.get_options(shown)) {
    Argument argument{{}, one_line(option->get_description()), value_of(*option)};
    for (const std::string& name : option->get_snames()) argument.names.push_back("-" + name);
    for (const std::string& name : option->get_lnames()) argument.names.push_back("--" + name);
    if (argument.names.empty())
      command.place = argument.value;
    else
      command.options.push_back(argument);
  }
  const auto below = app.get_subcommands(shown);
  for (const CLI::App* one : below) command.below.push_back({one->get_name(), one_line(one->get_description())});
  list.push_back(command);
  for (const CLI::App* one : below) list_commands(*one, command.path + " ", list);
}

std::string join(const Strings& pieces, const char* between) {
  return fmt::format("{}", fmt::join(pieces, between));
}

// In single quotes, with a backslash before each character of `special`; `quote` is how the shell writes a single one.
std::string quoted(const std::string& text, const std::string& special = "", const std::string& quote = "'\\''") {
  std::string out = "'";
  for (const char c : text) {
    if (special.find(c) != std::string::npos) out += '\\';
    out += c == '\'' ? quote : std::string(1, c);
  }
  return out + "'";
}

// ---- bash ----

std::string bash_offer(const Value& value) {
  const std::string words = value.words.empty() ? "" : "words='" + join(value.words, " ") + "' ";
  return words + (value.files ? "files=-f " : value.folders ? "files=-d " : "") + ";;\n";
}

constexpr const char* bash_frame = R"(# Completes hairline in bash. Made by: hairline completions bash
_hairline() {{
  local path=hairline word=${{COMP_WORDS[COMP_CWORD]}} before=${{COMP_WORDS[COMP_CWORD-1]}} words= files= i
  if [[ $word == = ]]; then word=; elif [[ $before == = ]]; then before=${{COMP_WORDS[COMP_CWORD-2]}}; fi
  for ((i = 1; i < COMP_CWORD; ++i)); do
    case "$path ${{COMP_WORDS[i]}}" in
      {}) path+=" ${{COMP_WORDS[i]}}" ;;
    esac
  done
  case "$path $before" in
{}    *) case "$path:$word" in
{}    esac ;;
  esac
  if [[ $files ]]; then compopt -o filenames 2>/dev/null; fi
  mapfile -t COMPREPLY < <(compgen $files -W "$words" -- "$word")
}}
complete -F _hairline hairline
)";

std::string bash_script(const std::vector<Command>& commands) {
  Strings paths;
  std::string values, words;
  for (const Command& command : commands) {
    Strings options;
    for (const Argument& option : command.options) {
      for (const std::string& name : option.names) {
        options.push_back(name);
        if (!option.value.type.empty())
          values += "    " + quoted(command.path + " " + name) + ") " + bash_offer(option.value);
      }
    }
    Value place = command.place;
    for (const Command::Below& below : command.below) {
      place.words.push_back(below.name);
      paths.push_back(quoted(command.path + " " + below.name));
    }
    words += fmt::format("      '{}:'-*) words='{}' ;;\n", command.path, join(options, " "));
    words += fmt::format("      '{}:'*) {}", command.path, bash_offer(place));
  }
  return fmt::format(bash_frame, join(paths, " | "), values, words);
}

// ---- zsh ----

constexpr const char* zsh_special = "[]:\\";

std::string zsh_value(const Value& value) {
  if (value.type.empty()) return "";
  const std::string offer = !value.words.empty() ? "(" + join(value.words, " ") + ")"
                            : value.files        ? "_files"
                            : value.folders      ? "_files -/"
                                                 : " ";
  return ":" + quoted(value.type, zsh_special) + ":" + quoted(offer);
}

std::string zsh_name(std::string path) {
  std::replace(path.begin(), path.end(), ' ', '_');
  return "_" + path;
}

std::string zsh_arguments(const Command& command) {
  Strings arguments = {"  _arguments -C"};
  for (const Argument& option : command.options) {
    for (const std::string& name : option.names)
      arguments.push_back(name + (option.value.type.empty() ? "" : "=") + "'['" + quoted(option.help, zsh_special) +
                          "']'" + zsh_value(option.value));
  }
  if (!command.below.empty())
    arguments.insert(arguments.end(), {"'1:command:->command'", "'*::argument:->argument'"});
  else if (!command.place.type.empty())
    arguments.push_back("'*'" + zsh_value(command.place));
  return join(arguments, " \\\n    ") + "\n";
}

constexpr const char* zsh_choice = R"(  case $state in
    command)
      local -a below=({})
      _describe command below ;;
    argument)
      case $line[1] in
{}      esac ;;
  esac
)";

std::string zsh_function(const Command& command) {
  std::string names, calls;
  for (const auto& [name, help] : command.below) {
    names += "\n        " + quoted(name + ":" + help);
    calls += fmt::format("        {}) {} ;;\n", name, zsh_name(command.path + " " + name));
  }
  return zsh_name(command.path) + "() {\n  local context state line\n  typeset -A opt_args\n" + zsh_arguments(command) +
         (names.empty() ? "" : fmt::format(zsh_choice, names, calls)) + "}\n";
}

std::string zsh_script(const std::vector<Command>& commands) {
  std::string out = "#compdef hairline\n# Completes hairline in zsh. Made by: hairline completions zsh\n";
  for (const Command& command : commands) out += zsh_function(command);
  return out + "if [[ $funcstack[1] == _hairline ]]; then _hairline \"$@\"; else compdef _hairline hairline; fi\n";
}

// ---- fish ----

std::string fish_quoted(const std::string& text) {
  return quoted(text, "\\", "\\'");
}

std::string fish_value(const Value& value) {
  if (value.type.empty()) return "";
  if (!value.words.empty()) return " -x -a " + fish_quoted(join(value.words, " "));
  return value.files ? " -r -F" : value.folders ? " -x -a '(__fish_complete_directories)'" : " -x";
}

constexpr const char* fish_head = R"(# Completes hairline in fish. Made by: hairline completions fish
function __hairline_at
    set -l path hairline
    for word in (commandline -opc)[2..]
        contains -- "$path $word" {} && set path "$path $word"
    end
    test "$path" = "$argv[1]"
end
complete -c hairline -f
)";

std::string fish_script(const std::vector<Command>& commands) {
  Strings paths;
  std::string lines;
  for (const Command& command : commands) {
    const std::string start = "complete -c hairline -n " + fish_quoted("__hairline_at \"" + command.path + "\"");
    for (const auto& [name, help] : command.below) {
      paths.push_back(fish_quoted(command.path + " " + name));
      lines += start + " -a " + name + " -d " + fish_quoted(help) + "\n";
    }
    if (command.place.files || command.place.folders) lines += start + fish_value(command.place) + "\n";
    for (const Argument& option : command.options) {
      lines += start;
      for (const std::string& name : option.names)
        lines += name.rfind("--", 0) == 0 ? " -l " + name.substr(2) : " -s " + name.substr(1);
      lines += fish_value(option.value) + " -d " + fish_quoted(option.help) + "\n";
    }
  }
  return fmt::format(fish_head, join(paths, " ")) + lines;
}

}  // namespace

std::string completion_script(const CLI::App& app, Shell shell) {
  std::vector<Command> commands;
  list_commands(app, "", commands);
  switch (shell) {
    case Shell::bash:
      return bash_script(commands);
    case Shell::zsh:
      return zsh_script(commands);
    case Shell::fish:
      return fish_script(commands);
  }
  return {};
}

}  // namespace hairline::cli
