// Text in lines of a terminal: widths, padding, wrapping, and how many lines a block takes. Internal to src/report.
#pragma once
#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

#include "hairline/document.hpp"

namespace hairline {

// Columns a terminal needs for UTF-8 text: wide East Asian characters and pictures take two, combining marks none.
std::size_t width_of(std::string_view text);
// Pads with spaces to `columns`; longer text stays as it is.
std::string padded(std::string text, std::size_t columns);
std::string padded_left(std::string text, std::size_t columns);
// Cut to at most `columns`, the last three as dots.
std::string shortened(std::string_view text, std::size_t columns);
// Lines of at most `columns`; a unit stays with its number, words longer than a line are cut.
std::vector<std::string> wrapped(std::string_view text, std::size_t columns);

// Columns of a line in this style.
std::size_t columns_of(const TerminalStyle& style);
// Lines that `show_terminal` gives an item, and that it gives a part of a document below others.
std::size_t lines_of(const Item& item, const TerminalStyle& style);
std::size_t lines_of(const Document& part, const TerminalStyle& style);

}  // namespace hairline
