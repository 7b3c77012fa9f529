// The page of a night: fields of the template in src/report/page/night.html. Sentences are those of `say_queue`.
#include <fmt/format.h>

#include <algorithm>

#include "../base/numbers.hpp"
#include "../base/percent.hpp"
#include "hairline/files.hpp"
#include "html.hpp"
#include "queue_words.hpp"
#include "words.hpp"

namespace hairline {
namespace {

// ---- top ----

std::string facts_html(const CheckedQueue& night, const NightClock& clock) {
  const QueueTotals totals = add_up(night);
  std::string text;
  if (night.times.start) text += fact("Start", "start", clock.text(0));
  if (night.times.ready_by) text += fact("Ready by", "ready_by", clock.text_of(*night.times.ready_by));
  text += fact("Clear", "totals.clear", std::to_string(totals.clear)) +
          fact("Caution", "totals.caution", std::to_string(totals.caution)) +
          fact("Hold", "totals.hold", std::to_string(totals.hold)) +
          fact("Not checked", "totals.not_checked", std::to_string(totals.not_checked));
  if (night.shard) return text;
  text += fact("All printed after", "plan.duration_s", clock.length_text(night.plan.duration_s)) +
          fact("Resin", "totals.resin_ml", amount_text(totals.resin_ml) + " ml");
  if (totals.resin_cost) text += fact("Cost", "totals.resin_cost", cost_text(*totals.resin_cost));
  return text;
}

std::string title_of(const CheckedQueue& night) {
  std::string title = "The night's queue";
  if (night.times.start) title = "The night of " + day_text(*night.times.start);
  if (night.shard) title += fmt::format(", share {} of {}", night.shard->part, night.shard->of);
  return title;
}

// The document down to its first heading.
Document answer_of(const Document& said) {
  const auto heading = [](const DocumentBlock& block) { return std::holds_alternative<Heading>(block); };
  return {said.begin(), std::find_if(said.begin(), said.end(), heading)};
}

// ---- the table ----

struct Column {
  const char *field, *title;
};
constexpr Column columns[] = {{"place", "no."},           {"verdict", "verdict"},   {"file", "job"},
                              {"printer", "printer"},     {"start_s", "start"},     {"end_s", "end"},
                              {"duration_s", "time"},     {"resin_ml", "resin ml"}, {"resin_cost", "cost"},
                              {"exposure_s", "s a layer"}};

bool is_named(const CheckedQueue& night) {
  return night.printers.size() > 1 || !night.printers[0].label.empty();
}

std::string head_html(const CheckedQueue& night) {
  std::string text;
  for (const Column& column : columns)
    if (is_named(night) || column.field != std::string_view("printer"))
      text += fmt::format("<th scope=\"col\"><button class=\"sort\" type=\"button\" data-field=\"{}\">{}</button></th>",
                          column.field, column.title);
  return text;
}

std::string number_cell(const char* field, const std::optional<double>& value, const std::string& shown) {
  if (!value) return fmt::format("<td class=\"number\" data-field=\"{}\">-</td>", field);
  return fmt::format("<td class=\"number\" data-field=\"{}\" data-value=\"{}\">{}</td>", field, twelve_digits(*value),
                     shown);
}

std::string name_cell(const CheckedQueue& night, const NightRow& row, const NightClock& clock) {
  const std::string name = fmt::format("<bdi>{}</bdi>", html_text(in_short(job_name(row), 120)));
  std::string text = fmt::format(
      "<td class=\"name\"><span data-field=\"file\">{}</span>",
      row.row.page.empty() ? name : fmt::format("<a href=\"{}\">{}</a>", percent_coded(row.row.page), name));
  for (const std::string& note : notes_of(night, row, clock))
    text += fmt::format("<p class=\"small\">{}</p>", html_text(note));
  return text + "</td>";
}

std::string printer_cell(const CheckedQueue& night, const NightRow& row) {
  if (!is_named(night)) return {};
  const std::string& label = row.print ? night.printers[row.print->printer].label : row.entry.job.printer;
  return fmt::format("<td data-field=\"printer\"><bdi>{}</bdi></td>", html_text(label));
}

std::string row_html(const CheckedQueue& night, const NightRow& row, const NightClock& clock) {
  const QueueRow& checked = row.row;
  const int grade = checked.error ? 3 : static_cast<int>(checked.verdict);
  const auto of_check = [&](double value) { return checked.error ? std::nullopt : std::optional(value); };
  const auto start_s = row.print ? std::optional(row.print->start_s) : std::nullopt;
  const auto end_s = row.print ? std::optional(row.print->end_s) : std::nullopt;
  return fmt::format(
             "<tr class=\"{}\" data-job=\"{}\"{}>{}<td class=\"verdict\" data-field=\"verdict\" "
             "data-value=\"{}\">{}{}</td>",
             checked.error ? "broken" : to_string(checked.verdict), &row.entry - night.entries.data(),
             row.print ? fmt::format(" data-copy=\"{}\"", row.print->copy) : "",
             number_cell("place", row.entry.place, std::to_string(row.entry.place)), grade, verdict_word(checked),
             sound_but_left(row) ? ", left out" : "") +
         name_cell(night, row, clock) + printer_cell(night, row) +
         number_cell("start_s", start_s, clock.text(start_s.value_or(0))) +
         number_cell("end_s", end_s, clock.text(end_s.value_or(0))) +
         number_cell("duration_s", of_check(checked.duration_s), duration_text(checked.duration_s)) +
         number_cell("resin_ml", of_check(checked.resin_ml), amount_text(checked.resin_ml)) +
         number_cell("resin_cost", checked.resin_cost, cost_text(checked.resin_cost.value_or(0))) +
         number_cell("exposure_s", of_check(checked.exposure_s), number_text(checked.exposure_s)) + "</tr>\n";
}

}  // namespace

std::string show_html(const CheckedQueue& night) {
  const NightClock clock(night.times);
  const Document answer = answer_of(say_queue(night));
  std::string rows;
  for (const NightRow& row : night_rows(night)) rows += row_html(night, row, clock);
  PageFields fields = page_fields(page_files::night_code);
  fields.insert({{"title", html_text(title_of(night))},
                 {"opening", html_text(std::get<Paragraph>(answer.front()).text)},
                 {"facts", facts_html(night, clock)},
                 {"answer", html_of(answer)},
                 {"printers_hidden", night.plan.prints.empty() ? "hidden" : ""},
                 {"printers", show_timelines(night)},
                 {"head", head_html(night)},
                 {"rows", std::move(rows)},
                 {"records", html_of(records_of(night))}});
  return filled(page_files::night_html, fields);
}

}  // namespace hairline
