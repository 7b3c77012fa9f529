// What came out of a print: what is read is written again the same, and what is said of it is text.
#include "hairline/outcome.hpp"

#include "hairline/files.hpp"
#include "target.hpp"

using namespace hairline;

void hairline::fuzz::run(std::string_view input) {
  const auto outcome = parse_outcome(std::string(input), "print.json");
  if (!outcome) return expect_told(outcome.error());
  const std::string written = to_json(*outcome);
  const auto again = parse_outcome(written, "again.json");
  expect(again && to_json(*again) == written, "written and read again it is the same");
  ResinRecord record;
  record.file = outcome->record.file;
  record.fit.emplace().blur_mm = outcome->record.blur_mm;
  record.fit->bond_time_s = record.fit->fuse_time_s = 1;
  const OutcomeSummary summary = weigh_outcomes(record, {*outcome, *outcome});
  expect(summary.prints + summary.earlier == 2, "both are prints of the record");
  expect(!summary.dose || (summary.dose->low <= summary.dose->log && summary.dose->log <= summary.dose->high),
         "the shift lies in its range");
  const std::string text = show_terminal(say_outcomes(summary), {});
  expect(valid_utf8(text) == text, "what is said is UTF-8");
}
