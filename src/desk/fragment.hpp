/// Documents and small JSON texts of the desk's answers.
#pragma once
#include <map>
#include <string>

#include "hairline/document.hpp"

namespace hairline::desk {

/// The document as a fragment of HTML, escaped.
std::string fragment_of(const Document& document);

/// The texts of a JSON object, by name; lists, numbers and objects are left out. Empty where it is none.
std::map<std::string, std::string, std::less<>> texts_in(const std::string& json);

}  // namespace hairline::desk
