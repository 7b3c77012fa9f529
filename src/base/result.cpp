#include "hairline/result.hpp"

#include <fmt/format.h>

namespace hairline {
namespace {

// Foreign names may hold line breaks; the promise of one paragraph is kept whatever they hold.
std::string on_one_line(std::string_view text) {
  std::string line;
  line.reserve(text.size());
  for (const char c : text) {
    if (c == '\n')
      line += "\\x0A";
    else if (c == '\r')
      line += "\\x0D";
    else
      line += c;
  }
  return line;
}

void end_sentence(std::string& text) {
  if (!text.empty() && text.back() != '.' && text.back() != '!' && text.back() != '?') text += '.';
}

}  // namespace

std::string to_paragraph(const Error& error) {
  std::string text = error.file;
  if (error.layer) text += fmt::format("{}layer {}", text.empty() ? "" : ", ", *error.layer);
  const auto append = [&text](std::string_view link, std::string_view part) {
    if (part.empty()) return;
    if (!text.empty()) text += link;
    text += part;
  };
  append(": ", error.found);
  append("; expected ", error.expected);
  end_sentence(text);
  append(" ", error.advice);
  end_sentence(text);
  return on_one_line(text);
}

std::string to_string(ErrorKind kind) {
  switch (kind) {
    case ErrorKind::usage:
      return "usage";
    case ErrorKind::not_found:
      return "not_found";
    case ErrorKind::unreadable:
      return "unreadable";
    case ErrorKind::broken:
      return "broken";
    case ErrorKind::invalid:
      return "invalid";
    case ErrorKind::mismatch:
      return "mismatch";
    case ErrorKind::version:
      return "version";
    case ErrorKind::limit:
      return "limit";
    case ErrorKind::unwritable:
      return "unwritable";
    case ErrorKind::cancelled:
      return "cancelled";
  }
  return "unknown";
}

}  // namespace hairline
