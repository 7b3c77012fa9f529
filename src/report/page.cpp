// The page: fields of the template in src/report/page/page.html. Sentences are the report's (wording.cpp); here each
// gets its place.
#include "hairline/page.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "hairline/files.hpp"
#include "hairline/record_charts.hpp"
#include "html.hpp"
#include "lines.hpp"
#include "page_parts.hpp"
#include "words.hpp"

namespace hairline {
namespace {

constexpr std::size_t most_json_bytes = 3000000;

// ---- the report's JSON ----

template <class T>
void keep(std::vector<T>& list, std::size_t most) {
  if (list.size() > most) list.resize(most);
}

struct Data {
  std::string json, note;  // the note is a sentence about what was cut; empty: nothing was
};

// The JSON, with lists cut until it is small enough.
Data data_of(const Report& report) {
  std::string json = to_json(report);
  if (json.size() <= most_json_bytes) return {std::move(json), {}};
  Report cut = report;
  std::size_t most = 8192;
  for (; json.size() > most_json_bytes && most > 0; most /= 2) {
    keep(cut.details, most);
    keep(cut.islands, most);
    keep(cut.falls, most);
    for (Fall& fall : cut.falls) keep(fall.details, most);
    if (cut.suggestion) keep(cut.suggestion->changes, most);
    keep(cut.layers, 4 * most);
    json = to_json(cut);
  }
  return {std::move(json),
          fmt::format("The data in this page are cut: {} of {} details, {} of {} layers. `--json` writes all.",
                      cut.details.size(), report.details.size(), cut.layers.size(), report.layers.size())};
}

// ---- limit curves ----

std::string limits_html(const Report& report) {
  if (!report.record) return {};
  std::optional<TimeToUse> use;
  if (const auto& plan = report.suggestion; plan && plan->action == Action::change)
    use = TimeToUse{plan->exposure_s, plan->exposure_s, plan->exposure_s};
  return limit_chart(report.record->model, report.record->readings, use, report.exposure_s);
}

// ---- top ----

std::string facts_html(const Report& report) {
  const Report::Job& job = report.job;
  std::string text = fact("Time to print", "job.duration_s", duration_text(job.duration_s)) +
                     fact("Resin", "job.resin_ml", amount_text(job.resin_ml) + " ml");
  if (job.resin_cost) text += fact("Cost", "job.resin_cost", cost_text(*job.resin_cost));
  text += fact("Height", "job.height_mm", mm_text(job.height_mm) + " mm") +
          fact("Layers", "job.layers", fmt::format("{} of {} mm", job.layers, number_text(job.layer_height_mm)));
  if (report.record) {
    const auto age = report.record->age_days;
    text += fact("Record", "record.resin", in_short(report.record->resin, 60));
    text += fact("Age of the record", "record.age_days",
                 !age       ? "unknown"
                 : *age < 0 ? age_text(*age)
                            : count_text(static_cast<std::uint64_t>(*age), "day", "days"));
  }
  return text;
}

std::string shape_html(Verdict verdict) {
  switch (verdict) {
    case Verdict::clear:
      return "<circle cx=\"32\" cy=\"32\" r=\"28\"/><path d=\"M18 33l10 10l19-21\"/>";
    case Verdict::caution:
      return "<path class=\"solid\" d=\"M32 4L62 58H2z\"/><path d=\"M32 24v17M32 48v4\"/>";
    case Verdict::hold:
      break;
  }
  return "<path class=\"solid\" d=\"M21 4h22l17 17v22l-17 17H21L4 43V21z\"/><path d=\"M18 32h28\"/>";
}

std::string lost_row(const char* name, const char* path, const SweepPoint& point) {
  const auto cell = [path](const char* field, const std::string& text) {
    return fmt::format("<td class=\"number\" data-json=\"suggestion.{}.{}\">{}</td>", path, field, text);
  };
  if (whole_fails(point))
    return fmt::format("<tr><th scope=\"row\">{}</th>{}<td colspan=\"3\">the whole print fails</td></tr>\n", name,
                       cell("exposure_s", exposure_text(point.exposure_s)));
  return fmt::format("<tr><th scope=\"row\">{}</th>{}{}{}{}</tr>\n", name,
                     cell("exposure_s", exposure_text(point.exposure_s)), cell("vanish", std::to_string(point.vanish)),
                     cell("fuse", std::to_string(point.fuse)), cell("expected_mm", rough_text(point.expected_mm)));
}

std::string time_html(const Report& report) {
  if (!report.suggestion || nothing_solid(report))
    return fmt::format(
        "<p class=\"set\"><span class=\"small\">Time a layer</span> <b data-json=\"exposure_s\">{}</b></p>\n",
        exposure_text(report.exposure_s));
  const Suggestion& s = *report.suggestion;
  const char* word = s.action == Action::keep ? keep_word(report)
                     : s.action == Action::change
                         ? (s.exception ? "First mend the exception; with the job as it is, set" : "Set")
                         : "No sure time yet; now";
  std::string text = fmt::format(
      "<p class=\"set\"><span class=\"small\">{}</span> <b data-json=\"suggestion.exposure_s\">{}</b></p>\n"
      "<table class=\"lost\"><thead><tr><td></td><th scope=\"col\">time</th><th scope=\"col\">missing</th><th "
      "scope=\"col\">closed</th><th scope=\"col\">harm mm</th></tr></thead><tbody>\n{}",
      word, exposure_text(s.exposure_s), lost_row("lost now", "now", s.now));
  if (s.action == Action::change) text += lost_row("lost then", "then", s.then);
  return text + "</tbody></table>\n";
}

std::string worst_html(const Listed& listed) {
  std::string text;
  for (std::size_t i = 0; i < std::min<std::size_t>(3, listed.groups.size()); ++i)
    text += fmt::format(
        "<li><a class=\"key {0}\" href=\"#{1}\" aria-label=\"Finding {2}\">{2}</a> <span>{3}</span></li>\n",
        listed.marks[i].shape, listed.marks[i].entry(), listed.marks[i].key, html_text(listed.marks[i].name));
  return text.empty() ? "" : "<h2>The worst</h2>\n<ol class=\"worst\">\n" + text + "</ol>\n";
}

// ---- the document ----

const Item* item_of(const DocumentBlock& block) {
  return std::get_if<Item>(&block);
}

// What the top says in words: the answer without what stands there in another form.
Document answer_of(const Document& said) {
  Document answer;
  for (std::size_t i = 1; i < said.size() && !std::holds_alternative<Heading>(said[i]); ++i)
    if (const Item* item = item_of(said[i]); item && item->finding == 0 && !item->lead.empty() && item->lead != "job")
      answer.push_back(*item);
  return answer;
}

// All below the answer but the findings, which have entries of their own.
Document rest_of(const Document& said) {
  Document rest;
  const auto drop_empty_heading = [&rest] {
    if (!rest.empty() && std::holds_alternative<Heading>(rest.back())) rest.pop_back();
  };
  bool below = false, findings = false;
  for (const DocumentBlock& block : said) {
    const bool heading = std::holds_alternative<Heading>(block);
    below = below || heading;
    const Item* item = item_of(block);
    if (heading) drop_empty_heading();
    findings =
        !heading && (item != nullptr && item->finding != 0 ? true : findings && item != nullptr && item->lead.empty());
    if (below && !findings && !std::holds_alternative<Picture>(block)) rest.push_back(block);
  }
  drop_empty_heading();
  return rest;
}

// ---- widths ----

std::string width_cell(const char* field, const std::optional<double>& mm, const char* else_text) {
  return fmt::format("<td class=\"number\" data-field=\"{}\">{}</td>", field, mm ? mm_text(*mm) : else_text);
}

std::string widths_html(const Report& report) {
  std::string text;
  if (report.growth)
    for (const WidthGrowth& width : report.growth->widths)
      text += fmt::format(
          "<tr><th scope=\"row\">{}</th>{}{}{}{}<td class=\"number\">{}</td><td class=\"number\">{}</td></tr>\n",
          mm_text(width.drawn_mm), width_cell("wall_mm", width.wall_mm, "gone"),
          width_cell("pin_mm", width.pin_mm, "gone"), width_cell("slot_mm", width.slot_mm, "closed"),
          width_cell("hole_mm", width.hole_mm, "closed"), amount_text(width.wall_mm2), amount_text(width.slot_mm2));
  return text;
}

// Widths under which nothing prints at the judged time, mm, by the fields of a width: a JSON object.
std::string width_limits_json(const Report& report) {
  std::string text;
  const auto add = [&text](const char* field, double limit_mm) {
    if (std::isfinite(limit_mm)) text += fmt::format("{}\"{}\":{:.4f}", text.empty() ? "" : ",", field, limit_mm);
  };
  if (report.record) {
    const CureModel& model = report.record->model;
    add("wall_mm", wall_limit_mm(model, report.exposure_s));
    add("pin_mm", pin_limit_mm(model, report.exposure_s));
    add("slot_mm", slot_limit_mm(model, report.exposure_s));
    add("hole_mm", hole_limit_mm(model, report.exposure_s));
  }
  return "{" + text + "}";
}

std::string title_of(const Report::Job& job) {
  return job.title.empty() ? job.file : job.title;
}

std::string hidden_unless(bool shown) {
  return shown ? "" : "hidden";
}

std::string details_note(const Report& report) {
  return report.details.size() <= most_rows
             ? ""
             : fmt::format(
                   "<p class=\"quiet\" id=\"rows-left-out\">The table has the first {} of {} "
                   "details; `--json` writes all.</p>",
                   most_rows, report.details.size());
}

}  // namespace

std::string show_html(const PageInput& input) {
  const Report& report = input.report;
  TerminalStyle style;
  style.details = 40;
  const Document said = say_report(report, style);
  const Listed list = listed(report);
  const Data data = data_of(report);
  PageFields fields = page_fields();
  fields.insert(
      {{"title", html_text(in_short(title_of(report.job), 120))},
       {"file", html_text(in_short(report.job.file, 120))},
       {"verdict", to_string(report.verdict)},
       {"verdict_word", in_capitals(report.verdict)},
       {"verdict_shape", shape_html(report.verdict)},
       {"verdict_sentence", html_text(verdict_sentence(report))},
       {"time", time_html(report)},
       {"facts", facts_html(report)},
       {"worst", worst_html(list)},
       {"answer", html_of(answer_of(said))},
       {"views", views_html(report, input.pictures ? &input.pictures->silhouettes : nullptr, list.marks)},
       {"entries", entries_html(report, list, input.pictures)},
       {"marks_hidden", hidden_unless(!list.marks.empty())},
       {"legend_hidden", hidden_unless(input.pictures && !input.pictures->details.empty())},
       {"when_hidden", hidden_unless(report.suggestion && !report.suggestion->sweep.empty() && !nothing_solid(report))},
       {"thin_hidden", hidden_unless(report.growth && !report.growth->widths.empty())},
       {"up_hidden", hidden_unless(report.layers.size() > 1)},
       {"widths", widths_html(report)},
       {"width_limits", html_text(width_limits_json(report))},
       {"details", details_html(report, list)},
       {"details_hidden", hidden_unless(!report.details.empty())},
       {"details_note", details_note(report)},
       {"words", html_of(rest_of(said))},
       {"data_note", html_text(data.note)},
       {"json", json_for_script(data.json)},
       {"limits", limits_html(input.report)}});
  return filled(page_files::html, fields);
}

}  // namespace hairline
