/// What the desk shows of the library's documents and errors.
#pragma once
#include <string>

#include "hairline/document.hpp"
#include "hairline/result.hpp"

namespace hairline::desk {

/// Without the sentences that name a command of the terminal: the page has a button for it, or a way.
std::string without_commands(std::string text);

/// With the name of the file instead of its path, and a step of the page instead of a command.
Error for_page(Error error);

/// The document as a fragment of HTML, escaped, without commands.
std::string fragment_of(const Document& document);

}  // namespace hairline::desk
