// How a command ends badly, and small things all commands share.
#include <ctime>

#include "commands.hpp"
#include "interrupt.hpp"

namespace hairline::cli {

Error cancelled(const std::string& file) {
  return {.kind = ErrorKind::cancelled, .file = file, .layer = {}, .found = {}, .expected = {}, .advice = {}};
}

int fail(const Error& error) {
  if (error.kind == ErrorKind::cancelled) {
    complain("stopped on request.");
    return interrupted_status;
  }
  complain(error);
  return status_not_checked;
}

std::string date_or_today(const std::string& given) {
  if (!given.empty()) return given;
  const std::time_t now = std::time(nullptr);
  std::tm local{};
  char text[16] = "";
  if (::localtime_r(&now, &local) != nullptr) std::strftime(text, sizeof text, "%Y-%m-%d", &local);
  return text;
}

}  // namespace hairline::cli
