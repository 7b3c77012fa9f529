#include "hairline/result.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "error_words.hpp"
#include "hairline/files.hpp"

namespace hairline {
namespace {

// Every part quotes foreign text of any length. A long word (a key, a value, a name) gives way first, so that the
// sentence around it stays whole.
constexpr std::size_t most_of_file = 200, most_of_word = 100, most_of_part = 300;

std::string bounded(std::string_view part) {
  std::string text;
  for (std::size_t at = 0; at < part.size();) {
    const std::size_t end = std::min(part.find(' ', at), part.size());
    text += in_short(part.substr(at, end - at), most_of_word);
    if (end < part.size()) text += ' ';
    at = end + 1;
  }
  return in_short(text, most_of_part);
}

// Foreign names may hold line breaks; the promise of one paragraph is kept whatever they hold.
std::string on_one_line(std::string_view text) {
  std::string line;
  line.reserve(text.size());
  for (const char c : text) line += c == '\n' ? "\\x0A" : c == '\r' ? "\\x0D" : std::string(1, c);
  return line;
}

void end_sentence(std::string& text) {
  if (!text.empty() && text.back() != '.' && text.back() != '!' && text.back() != '?') text += '.';
}

}  // namespace

std::string to_paragraph(const Error& error) {
  std::string text = in_short(error.file, most_of_file);
  if (error.layer) text += fmt::format("{}layer {}", text.empty() ? "" : ", ", *error.layer);
  const auto append = [&text](std::string_view link, std::string_view part) {
    if (part.empty()) return;
    if (!text.empty()) text += link;
    text += bounded(part);
  };
  append(": ", error.found);
  append("; expected ", error.expected);
  end_sentence(text);
  append(" ", error.advice);
  end_sentence(text);
  return on_one_line(text);
}

std::string to_string(ErrorKind kind) {
  return words_for(kind)[static_cast<std::size_t>(kind)];
}

}  // namespace hairline
