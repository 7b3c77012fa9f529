// A draft of a description, and what came of trying it, for a person.
#pragma once
#include "console.hpp"
#include "hairline/describe.hpp"

namespace hairline::cli {

/// The masks look inverted, and nothing says whether they are.
bool asks_invert(const Draft& draft);
std::string draft_text(const Draft& draft, const std::string& archive, const Console& console);
/// What the archive is when it is read by the draft, or what is still missing.
std::string trial_text(const Result<Archive>& tried, const Console& console);
/// `text` in lines of the console's width, each but the first with `indent` blanks in front.
std::string in_lines(const std::string& text, std::size_t indent, const Console& console);

}  // namespace hairline::cli
