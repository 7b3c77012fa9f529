// How a command ends, and small things all commands share.
#include "commands.hpp"

#include "hairline/files.hpp"
#include "hairline/local_time.hpp"

namespace hairline::cli {

CLI::App& add_command(CLI::App& parent, const char* name, const char* help, const char* examples) {
  CLI::App& app = *parent.add_subcommand(name, help);
  app.footer(std::string("Examples:\n") + examples);
  return app;
}

int tell(const std::string& text) {
  const auto printed = print(text);
  return printed ? status_fine : fail(printed.error());
}

int tell_written(const Result<std::vector<std::filesystem::path>>& written) {
  if (!written) return fail(written.error());
  std::string text;
  for (const auto& path : *written) text += visible(path.string()) + "\n";
  return tell(text);
}

Error cancelled(const std::string& file) {
  return {ErrorKind::cancelled, file};
}

Error usage(std::string found, std::string expected, std::string advice) {
  return {ErrorKind::usage, "", std::move(found), std::move(expected), std::move(advice)};
}

int fail(const Error& error) {
  if (error.kind == ErrorKind::cancelled) {
    complain("stopped on request.");
    return status_interrupted;
  }
  complain(error);
  return status_not_checked;
}

std::string date_or_today(const std::string& given) {
  return given.empty() ? to_string(local_now()).substr(0, 10) : given;
}

}  // namespace hairline::cli
