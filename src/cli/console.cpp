#include "console.hpp"

#include <poll.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <system_error>

#include "../base/ascii.hpp"
#include "hairline/files.hpp"

namespace hairline::cli {
namespace {

bool is_set(const char* name) {
  const char* value = std::getenv(name);
  return value != nullptr && *value != '\0';
}

bool dumb() {
  const char* term = std::getenv("TERM");
  return term == nullptr || *term == '\0' || std::strcmp(term, "dumb") == 0;
}

// The first of these variables that is set decides (POSIX.1-2017, 8.2).
bool utf8_locale() {
  for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"}) {
    if (!is_set(name)) continue;
    const std::string locale = small_letters(std::getenv(name));
    return locale.find("utf-8") != std::string::npos || locale.find("utf8") != std::string::npos;
  }
  return false;
}

std::optional<std::uint32_t> columns_of(int stream) {
  struct ::winsize size {};
  if (::ioctl(stream, TIOCGWINSZ, &size) == 0 && size.ws_col > 0) return size.ws_col;
  // A terminal that does not know its width; the shell may.
  const char* told = std::getenv("COLUMNS");
  const long columns = told != nullptr ? std::strtol(told, nullptr, 10) : 0;
  if (columns > 0 && columns <= 100000) return static_cast<std::uint32_t>(columns);
  return {};
}

// 0, or the errno of what failed.
int write_all(int stream, std::string_view text) {
  while (!text.empty()) {
    const ssize_t wrote = ::write(stream, text.data(), text.size());
    if (wrote < 0 && errno == EINTR) continue;
    if (wrote < 0 && errno == EAGAIN) {  // another program made it non-blocking: wait until it takes more
      ::pollfd one{stream, POLLOUT, 0};
      ::poll(&one, 1, -1);
      continue;
    }
    if (wrote < 0) return errno;
    text.remove_prefix(static_cast<std::size_t>(wrote));
  }
  return 0;
}

}  // namespace

Console look_at_console() {
  Console console;
  const bool out = ::isatty(STDOUT_FILENO) != 0, err = ::isatty(STDERR_FILENO) != 0;
  console.blocks = utf8_locale();
  console.colour = out && !dumb() && !is_set("NO_COLOR");
  console.progress = err && !dumb();
  console.questions = out && ::isatty(STDIN_FILENO) != 0;
  if (out) console.columns = columns_of(STDOUT_FILENO).value_or(console.columns);
  if (err) console.error_columns = columns_of(STDERR_FILENO).value_or(console.error_columns);
  return console;
}

TerminalStyle style_of(const Console& console, std::uint32_t details) {
  return {.colour = console.colour, .columns = console.columns, .details = details, .blocks = console.blocks};
}

Result<void> print(std::string_view text) {
  const int failed = write_all(STDOUT_FILENO, text);
  if (failed == 0 || failed == EPIPE) return {};
  return tl::unexpected(Error{ErrorKind::unwritable, "standard output",
                              "it cannot be written (" + std::generic_category().message(failed) + ")",
                              "an output that takes the report", "Send it elsewhere."});
}

std::optional<std::string> read_line(const Progress& progress) {
  std::string line;
  while (!progress.cancelled()) {
    ::pollfd input{STDIN_FILENO, POLLIN, 0};
    if (::poll(&input, 1, 100) <= 0) continue;  // a signal, or time to look for one
    char c = 0;
    const ssize_t got = ::read(STDIN_FILENO, &c, 1);
    if (got < 0 && errno == EINTR) continue;
    if (got <= 0) return line.empty() ? std::nullopt : std::optional(line);
    if (c == '\n') return line;
    line += c;
  }
  return {};
}

void complain(const Error& error) {
  complain(to_paragraph(error) + (error.command.empty() ? "" : " Type: " + error.command));
}

void complain(std::string_view text) {
  print_aside("hairline: " + visible(text) + "\n");
}

std::string typed_again(int argc, const char* const* argv) {
  std::string out = "hairline";
  for (int i = 1; i < argc; ++i) out.append(" ").append(shell_word(argv[i]));
  return out;
}

void print_aside(std::string_view text) {
  write_all(STDERR_FILENO, text);  // nowhere left to tell if this fails
}

}  // namespace hairline::cli
