// A night's queue.json: what is read is written again the same, and document, CSV and page are made of it.
#include "hairline/queue.hpp"
#include "target.hpp"

using namespace hairline;

void hairline::fuzz::run(std::string_view input) {
  const auto night = parse_checked_queue(std::string(input), "queue.json");
  if (!night) return expect_told(night.error());
  const std::string written = to_json(*night);
  const auto again = parse_checked_queue(written, "again.json");
  expect(again && to_json(*again) == written, "written and read again it is the same");
  const std::string text = show_terminal(say_queue(*night), {}), page = show_html(*night);
  expect(visible(text).size() >= text.size() && valid_utf8(text) == text, "the document is UTF-8");
  expect(valid_utf8(page) == page && page.ends_with("</html>\n"), "the page is whole, and UTF-8");
  expect(to_csv(*night).ends_with("\r\n"), "the CSV ends its last line");
}
