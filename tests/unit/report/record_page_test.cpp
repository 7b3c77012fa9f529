#include <catch2/catch.hpp>

#include "hairline/page.hpp"

using namespace hairline;
using Catch::Matchers::Contains;

namespace {

ResinRecord record() {
  ResinRecord record;
  record.resin.label = "grey </title><b>&\"";
  record.fit.emplace();
  record.fit->bond_time_s = 1.6, record.fit->fuse_time_s = 0.55, record.fit->blur_mm = 0.04;
  record.fit->valid_from_s = 1.8, record.fit->valid_to_s = 3.2;
  record.use = TimeToUse{2.15, 1.9, 3.2};
  record.bracket.emplace_back();
  record.bracket.back().exposure_s = 2.4;
  record.bracket.back().thinnest_wall_mm = 0.08;
  return record;
}

}  // namespace

TEST_CASE("a record's page has the time to use, both charts and all words, and loads and runs nothing") {
  const std::string page = show_record_html(record(), "2026-11-07");
  CHECK_THAT(page, Contains("<b data-use=\"exposure_s\">2.15 s</b>") && Contains("class=\"limit-chart\"") &&
                       Contains("class=\"residual-chart\"") && Contains("wall read at 2.4 s: 0.08 mm") &&
                       Contains("thinnest wall at 2.4 s"));
  CHECK_THAT(page, Contains("grey &lt;/title&gt;&lt;b&gt;&amp;&quot;") && !Contains("grey <"));
  CHECK_THAT(page, !Contains("http:") && !Contains("https:") && !Contains("<script") && !Contains("{{") &&
                       Contains("default-src 'none'"));
}

TEST_CASE("a record without a fit has a page without charts") {
  ResinRecord unfitted = record();
  unfitted.fit.reset();
  unfitted.use.reset();
  const std::string page = show_record_html(unfitted, "2026-11-07");
  CHECK_THAT(page, Contains("There is no fit yet") && Contains("id=\"limits\" hidden") && !Contains("<svg"));
}

TEST_CASE("a record's age is told as words") {
  ResinRecord aged = record();
  aged.conditions.date = "2026-11-06";
  const auto page_on = [&](const char* today) { return show_record_html(aged, today); };
  CHECK_THAT(page_on("2026-11-06"), Contains("2026-11-06, today"));
  CHECK_THAT(page_on("2026-11-07"), Contains("2026-11-06, 1 day ago"));
  CHECK_THAT(page_on("2026-11-12"), Contains("2026-11-06, 6 days ago"));
  CHECK_THAT(page_on("2026-11-05"), Contains("2026-11-06, dated in the future"));
}
