/// Lists in sentences.
#pragma once
#include <cstddef>
#include <string>

namespace hairline {

/// "a, b and c", each entry as `word` gives it.
std::string and_list(const auto& list, auto word) {
  std::string text;
  for (std::size_t i = 0; i < list.size(); ++i) {
    text += i == 0 ? "" : i + 1 == list.size() ? " and " : ", ";
    text += word(list[i]);
  }
  return text;
}

}  // namespace hairline
