// Scripts that complete commands, options and values in a shell, made from the options themselves.
#pragma once
#include <CLI/CLI.hpp>
#include <cstdint>
#include <string>

namespace hairline::cli {

enum class Shell : std::uint8_t { bash, zsh, fish };

// The script for one shell. What completes a value is read off its type in the help: FILE, JOB and PATH are files, DIR
// is a folder, and lower-case pieces between bars (clear|caution) are the words to choose from. Hidden commands and
// options (group "") are left out.
std::string completion_script(const CLI::App& app, Shell shell);

}  // namespace hairline::cli
