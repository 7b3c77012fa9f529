/// The report as one page that opens anywhere: no network, no files beside it (docs/page.md).
#pragma once
#include <string>

#include "hairline/pictures.hpp"
#include "hairline/record.hpp"
#include "hairline/report.hpp"

namespace hairline {

struct PageInput {
  const Report& report;
  const Pictures* pictures = nullptr;  ///< null: the page has no pictures
};

/// HTML in UTF-8 with everything inlined: text of the report's document, pictures, and the report's JSON. Foreign text
/// is escaped. Up to about 5 MB: pictures, rows and long lists of the JSON beyond that are left out, which the page
/// says. Same values, same bytes.
std::string show_html(const PageInput& input);

/// A record as such a page: the time to use, limit curves with the readings on them, residuals, and all that
/// `say_record` says. `today` is YYYY-MM-DD, for the age. Same values, same bytes.
std::string show_record_html(const ResinRecord& record, const std::string& today);

}  // namespace hairline
