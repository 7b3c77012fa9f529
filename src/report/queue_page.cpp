// The page of a night: fields of the template in src/report/page/night.html. Sentences are those of `say_queue`.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "../base/numbers.hpp"
#include "hairline/files.hpp"
#include "html.hpp"
#include "lines.hpp"
#include "queue_words.hpp"
#include "words.hpp"

namespace hairline {
namespace {

// ---- top ----

std::string fact(const char* name, const char* path, const std::string& text) {
  return fmt::format("<div class=\"fact\"><dt>{}</dt><dd data-json=\"{}\">{}</dd></div>\n", name, path,
                     html_text(text));
}

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
  text += fact("All printed after", "plan.duration_s", NightClock(night.times).length_text(night.plan.duration_s)) +
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

// ---- timelines ----

constexpr double left_px = 12, right_px = 988, letter_px = 7.4;

// Seconds of the night to places in the drawing; the same for all printers.
struct Scale {
  double last_s;
  double x(double s) const { return left_px + s / last_s * (right_px - left_px); }
};

Scale scale_of(const NightPlan& plan) {
  return {std::max({plan.duration_s, plan.allowed_s.value_or(0), 60.0})};
}

// Round hours of the clock, or since the start, about ten of them.
std::string ticks_svg(const Scale& scale, const NightClock& clock) {
  double step_s = 3600;
  for (const double hours : {2, 3, 6, 12, 24})
    if (scale.last_s / step_s > 12) step_s = hours * 3600;
  while (scale.last_s / step_s > 12) step_s *= 2;
  double first_s = 0;
  if (clock.known()) {
    const auto time = clock.at(0);
    const double of_day_s =
        static_cast<double>((time - std::chrono::floor<std::chrono::days>(time)) / std::chrono::seconds(1));
    first_s = std::ceil(of_day_s / step_s) * step_s - of_day_s;
  }
  std::string text;
  for (double s = first_s; s <= scale.last_s; s += step_s) {
    const double x = scale.x(s);
    text += fmt::format(
        "<path class=\"tick\" d=\"M{0:.1f} 20V58\"/><text x=\"{0:.1f}\" y=\"72\" text-anchor=\"{1}\">{2}</text>", x,
        x < 50    ? "start"
        : x > 950 ? "end"
                  : "middle",
        clock.text(s));
  }
  return text;
}

std::string sign_svg(Verdict verdict, double x) {
  return verdict == Verdict::clear ? fmt::format("<circle class=\"sign\" cx=\"{:.1f}\" cy=\"38\" r=\"5\"/>", x + 11)
                                   : fmt::format("<path class=\"sign\" d=\"M{:.1f} 32l6 11h-12z\"/>", x + 11);
}

std::string print_svg(const CheckedQueue& night, const PlannedPrint& print, const Scale& scale,
                      const NightClock& clock) {
  const QueueEntry& entry = night.entries[print.job];
  const Verdict verdict = entry.rows[print.row].verdict;
  const double x = scale.x(print.start_s), wide = std::max(1.0, scale.x(print.end_s) - x);
  const std::string name = visible(file_name(entry.job.file));
  std::string text = fmt::format(
      "<g class=\"print {}\" data-job=\"{}\" data-copy=\"{}\"><title>{}: {} to {}</title><rect x=\"{:.1f}\" y=\"24\" "
      "width=\"{:.1f}\" height=\"28\"/>",
      to_string(verdict), print.job, print.copy, html_text(name), clock.text(print.start_s), clock.text(print.end_s), x,
      wide);
  if (wide >= 22) text += sign_svg(verdict, x);
  const double letters = (wide - 28) / letter_px;
  if (letters >= 5)
    text += fmt::format("<text x=\"{:.1f}\" y=\"42\">{}</text>", x + 21,
                        html_text(shortened(name, static_cast<std::size_t>(letters))));
  text += "</g>";
  if (print.late)
    text += fmt::format("<rect class=\"box late\" x=\"{:.1f}\" y=\"22.5\" width=\"{:.1f}\" height=\"31\"/>", x, wide);
  if (print.resin_change) text += fmt::format("<path class=\"change\" d=\"M{:.1f} 14l6 6l-6 6l-6-6z\"/>", x);
  return text;
}

std::string ready_svg(const CheckedQueue& night, const Scale& scale, const NightClock& clock) {
  if (!night.plan.allowed_s || !night.times.ready_by) return {};
  const double x = scale.x(*night.plan.allowed_s);
  const bool right = x < 500;
  return fmt::format(
      "<line class=\"ready\" x1=\"{0:.1f}\" y1=\"2\" x2=\"{0:.1f}\" y2=\"58\"/><text x=\"{1:.1f}\" y=\"13\" "
      "text-anchor=\"{2}\">ready by {3}</text>",
      x, right ? x + 6 : x - 6, right ? "start" : "end", clock.text_of(*night.times.ready_by));
}

struct PrinterPart {
  std::uint32_t printer = 0;
  std::vector<const PlannedPrint*> prints;
};

// What the drawing shows, for those who do not see it.
std::string said_timeline(const CheckedQueue& night, const PrinterPart& part, const NightClock& clock) {
  constexpr std::size_t most = 20;
  std::string text = printer_heading(night, part.printer, clock);
  for (std::size_t i = 0; i < std::min(most, part.prints.size()); ++i) {
    const PlannedPrint& print = *part.prints[i];
    const QueueEntry& entry = night.entries[print.job];
    text += fmt::format("; {}, {}, {} to {}{}", file_name(entry.job.file), to_string(entry.rows[print.row].verdict),
                        clock.text(print.start_s), clock.text(print.end_s), print.late ? ", late" : "");
  }
  if (part.prints.size() > most) text += fmt::format("; and {} more, in the table", part.prints.size() - most);
  return text;
}

std::string printer_html(const CheckedQueue& night, const PrinterPart& part, const NightClock& clock) {
  std::string text = fmt::format("<h3><bdi>{}</bdi></h3>\n", html_text(printer_heading(night, part.printer, clock)));
  const std::string resin = resin_of(night, part.printer);
  if (!resin.empty()) text += fmt::format("<p class=\"small\">Resin: {}</p>\n", html_text(resin));
  if (part.prints.empty()) return text;
  const Scale scale = scale_of(night.plan);
  text += fmt::format(
      "<figure class=\"timeline\"><div class=\"scroll\" role=\"region\" aria-label=\"Timeline {}\" tabindex=\"0\"><svg "
      "viewBox=\"0 0 1000 78\" role=\"img\" aria-label=\"{}\">{}",
      part.printer + 1, html_text(said_timeline(night, part, clock)), ticks_svg(scale, clock));
  for (const PlannedPrint* print : part.prints) text += print_svg(night, *print, scale, clock);
  return text + ready_svg(night, scale, clock) + "</svg></div></figure>\n";
}

std::string printers_html(const CheckedQueue& night, const NightClock& clock) {
  std::vector<PrinterPart> parts(night.printers.size());
  for (std::uint32_t i = 0; i < parts.size(); ++i) parts[i].printer = i;
  for (const PlannedPrint& print : night.plan.prints) parts[print.printer].prints.push_back(&print);
  std::string text;
  for (const PrinterPart& part : parts) text += printer_html(night, part, clock);
  return text;
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

// A path as an address: nothing in it can be read as a scheme or a host.
std::string href_of(const std::string& path) {
  std::string text;
  for (const char c : path) {
    const bool plain = (c >= '0' && c <= '9') || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '.' ||
                       c == '-' || c == '_' || c == '~';
    text += plain ? std::string(1, c) : fmt::format("%{:02X}", static_cast<unsigned char>(c));
  }
  return text;
}

std::string number_cell(const char* field, const std::optional<double>& value, const std::string& shown) {
  if (!value) return fmt::format("<td class=\"number\" data-field=\"{}\">-</td>", field);
  return fmt::format("<td class=\"number\" data-field=\"{}\" data-value=\"{}\">{}</td>", field, twelve_digits(*value),
                     shown);
}

std::string name_cell(const CheckedQueue& night, const NightRow& row, const NightClock& clock) {
  const std::string name = fmt::format("<bdi>{}</bdi>", html_text(in_short(job_name(row), 120)));
  std::string text =
      fmt::format("<td class=\"name\"><span data-field=\"file\">{}</span>",
                  row.row.page.empty() ? name : fmt::format("<a href=\"{}\">{}</a>", href_of(row.row.page), name));
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
  Fields fields = page_fields(page_files::night_code);
  fields.insert({{"title", html_text(title_of(night))},
                 {"opening", html_text(std::get<Paragraph>(answer.front()).text)},
                 {"facts", facts_html(night, clock)},
                 {"answer", html_of(answer)},
                 {"printers_hidden", night.plan.prints.empty() ? "hidden" : ""},
                 {"printers", printers_html(night, clock)},
                 {"head", head_html(night)},
                 {"rows", std::move(rows)},
                 {"records", html_of(records_of(night))}});
  return filled(page_files::night_html, fields);
}

}  // namespace hairline
