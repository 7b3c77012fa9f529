// The two streams: what they are connected to, and writing to them politely.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "hairline/progress.hpp"
#include "hairline/report.hpp"
#include "hairline/result.hpp"

namespace hairline::cli {

struct Console {
  bool blocks = false;               // its locale is one of UTF-8
  bool colour = false;               // stdout is a terminal that shows colour, and NO_COLOR is not set
  bool progress = false;             // stderr is a terminal that can return to the start of a line
  bool questions = false;            // a person sits at stdin and stdout
  std::uint32_t columns = 80;        // of stdout
  std::uint32_t error_columns = 80;  // of stderr
};
Console look_at_console();

TerminalStyle style_of(const Console& console, std::uint32_t details = 10);

// Everything to stdout. A reader that has gone away is no failure; a full disk is.
Result<void> print(std::string_view text);
// The next line of stdin, without its end; none where it ends before, or where `progress` is cancelled meanwhile.
std::optional<std::string> read_line(const Progress& progress);
// One paragraph to stderr, foreign bytes made visible.
void complain(const Error& error);
void complain(std::string_view text);
// A call with its options, quoted for a shell.
std::string typed_again(int argc, const char* const* argv);
// The text as it is to stderr.
void print_aside(std::string_view text);

}  // namespace hairline::cli
