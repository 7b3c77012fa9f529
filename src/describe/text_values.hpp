// Every value in a text of an archive, with the key that leads to it, whatever the text's syntax.
#pragma once
#include <string>
#include <vector>

#include "hairline/foreign.hpp"

namespace hairline::archive {

struct TextValue {
  std::string entry;
  Syntax syntax = Syntax::json;
  std::string key;                 ///< as in SettingSource
  std::vector<std::string> parts;  ///< of the key, outermost first
  std::string text;                ///< the value as find_value gives it
  std::string behind;              ///< what may name its unit: the rest of the line, or a unit beside it
  bool remark = false;             ///< in a comment
};

/// Values in the order of the text, at most `most_values`. Lists (of more than four, or the same key over and over) are
/// left out: they speak of single layers. Of a text that is no text at all: none.
std::vector<TextValue> values_in(const std::string& text, const std::string& entry);
inline constexpr std::size_t most_values = 20'000;

/// Of lines, "key = value" with or without sections, and of plain words with numbers: adds the values in the order of
/// the lines. Lines over 400 bytes are passed over.
void line_values(const std::string& text, const std::string& entry, std::vector<TextValue>& out);

}  // namespace hairline::archive
