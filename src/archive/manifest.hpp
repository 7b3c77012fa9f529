// A manifest's text to settings, told in the words of the file it stands in.
#pragma once
#include "../base/fields.hpp"
#include "hairline/archive.hpp"

namespace hairline::archive {

/// As parse_manifest; `kind` has to live as long as the program.
Result<JobSettings> parse_settings(const std::string& text, const std::string& file, const Limits& limits,
                                   const JsonKind& kind);

}  // namespace hairline::archive
