// The page of a resin record: the charts over what `say_record` says.
#include <fmt/format.h>

#include "hairline/fit.hpp"
#include "hairline/page.hpp"
#include "hairline/record_charts.hpp"
#include "hairline/say_record.hpp"
#include "html.hpp"
#include "words.hpp"

namespace hairline {
namespace {

std::string use_html(const std::optional<TimeToUse>& use) {
  if (!use) return "<p>There is no fit yet.</p>\n";
  const std::string range = use->from_s < use->to_s
                                ? fmt::format(
                                      "<p class=\"quiet\">good from <span data-use=\"from_s\">{}</span> to <span "
                                      "data-use=\"to_s\">{}</span> s</p>\n",
                                      number_text(use->from_s), number_text(use->to_s))
                                : std::string();
  return fmt::format(
      "<p class=\"set\"><span class=\"small\">Time to use</span> <b data-use=\"exposure_s\">{} s</b></p>\n{}",
      number_text(use->exposure_s), range);
}

const char* hidden_when_empty(const std::string& chart) {
  return chart.empty() ? "hidden" : "";
}

}  // namespace

std::string show_record_html(const ResinRecord& record, const std::string& today) {
  const auto use = time_to_use(record);
  const std::string limits = record.fit ? limit_chart(*record.fit, record.bracket, use) : std::string();
  const std::string off = residual_chart(record);
  PageFields fields = page_fields();
  fields.insert({{"title", html_text(in_short(record.resin.label.empty() ? record.file : record.resin.label, 120))},
                 {"use", use_html(use)},
                 {"limits", limits},
                 {"limits_hidden", hidden_when_empty(limits)},
                 {"residuals", off},
                 {"residuals_hidden", hidden_when_empty(off)},
                 {"words", html_of(say_record(record, today, true))}});
  return filled(page_files::record_html, fields);
}

}  // namespace hairline
