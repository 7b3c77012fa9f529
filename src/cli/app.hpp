// The option tree, and a command line read by it.
#pragma once
#include "commands.hpp"

namespace hairline::cli {

// Every command with all its options, for reading a command line and for whatever else is made from the tree (man page,
// completions). Reading sets `context.run` and `context.console.columns`; `context` must outlive the tree.
std::unique_ptr<CLI::App> build_app(Context& context);

// Reads the command line, runs the command and returns the exit status. Help and version are printed; wrong usage is
// told, with the nearest name where a command or an option is misspelt.
int run_app(CLI::App& app, Context& context, int argc, const char* const* argv);

}  // namespace hairline::cli
