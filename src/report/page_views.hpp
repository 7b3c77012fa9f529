// What the page lists, and where it lies: three views of the print with a numbered mark for each finding and island.
// Internal to src/report.
#pragma once
#include <string>
#include <vector>

#include "hairline/pictures.hpp"
#include "hairline/report.hpp"
#include "wording.hpp"

namespace hairline {

// A place with an entry on the page. `key` is "1" for a finding (its id), "i1" for an island.
struct Mark {
  std::string key, shape, name;  // shape: the class "missing", "closed" or "island"; name: a sentence
  BoxMm box;
  std::string entry() const { return key[0] == 'i' ? "island-" + key.substr(1) : "finding-" + key; }
};

// The three views as SVG; marks lead to their entries. Without silhouettes the marks stand on the bare outline.
std::string views_html(const Report& report, const Silhouettes* silhouettes, const std::vector<Mark>& marks);

}  // namespace hairline
