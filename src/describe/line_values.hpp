// Values in a text of lines: "key = value" with or without sections, and plain words with numbers.
#pragma once
#include "text_values.hpp"

namespace hairline::archive {

/// Adds them in the order of the lines. Lines over 400 bytes are passed over.
void line_values(const std::string& text, const std::string& entry, std::vector<TextValue>& out);

}  // namespace hairline::archive
