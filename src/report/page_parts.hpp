// What the page lists, and where it lies: three views of the print with a numbered mark for each finding and island
// (page_views.cpp), an entry with pictures for each listed group, and the table of all (page_findings.cpp). Internal to
// src/report.
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
  BoxMm box;                     // of all of it
  BoxMm at;                      // its label stands at the middle of this
  std::string entry() const { return key[0] == 'i' ? "island-" + key.substr(1) : "finding-" + key; }
};

// The three views as SVG; marks lead to their entries. Without silhouettes the marks stand on the bare outline.
std::string views_html(const Report& report, const Silhouettes* silhouettes, const std::vector<Mark>& marks);

// Lost details that are alike, worst group first, and islands that nothing holds, biggest first: what has an entry.
struct Listed {
  std::vector<LossGroup> groups;  // at most 60
  std::vector<const IslandRow*> islands;
  std::vector<Mark> marks;  // of the groups, then of the islands
  std::string rest;         // what has no entry, as a sentence; may be empty
};
Listed listed(const Report& report);

// Entries in the order of the marks. Pictures of the worst come first; those beyond about 2.4 MB are left out, and
// said.
std::string entries_html(const Report& report, const Listed& listed, const Pictures* pictures);
// The table of details, so many rows at most.
inline constexpr std::size_t most_rows = 2000;
std::string details_html(const Report& report, const Listed& listed);

}  // namespace hairline
