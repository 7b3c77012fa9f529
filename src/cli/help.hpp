// Help that fits the terminal, and what a misspelt word was perhaps meant to be.
#pragma once
#include <CLI/CLI.hpp>
#include <string>

namespace hairline::cli {

// Lines over `columns` (taken as 60 at least) are broken at spaces and go on below the text of their entry; example
// commands are broken so that they can still be pasted into a shell.
std::string fitted(const std::string& help, std::size_t columns);

// The option of `command` or those above it, or the command below it, that is nearest to `word`; empty: none is near.
std::string meant_by(const std::string& word, const CLI::App& command);

}  // namespace hairline::cli
