// Findings on the page: an entry with pictures for each listed group, and the table of all. Internal to src/report.
#pragma once
#include <string>
#include <vector>

#include "hairline/pictures.hpp"
#include "hairline/report.hpp"
#include "page_views.hpp"

namespace hairline {

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
// The table of details, 2000 rows at most.
std::string details_html(const Report& report, const Listed& listed);

}  // namespace hairline
