// The prints of each printer along the clock: a part of the night's page and of the desk's.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "hairline/files.hpp"
#include "html.hpp"
#include "lines.hpp"
#include "queue_words.hpp"
#include "words.hpp"

namespace hairline {
namespace {

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

// What its signs mean.
constexpr const char* legend = R"(<ul class="legend">
<li><svg viewBox="0 0 16 16" aria-hidden="true"><rect class="box clear" width="16" height="16"/><circle class="sign" cx="8" cy="8" r="5"/></svg> clear</li>
<li><svg viewBox="0 0 16 16" aria-hidden="true"><rect class="box caution" width="16" height="16"/><path class="sign" d="M8 3l5 10h-10z"/></svg> caution</li>
<li><svg viewBox="0 0 16 16" aria-hidden="true"><rect class="box late" x="1.5" y="1.5" width="13" height="13"/></svg> ends late</li>
<li><svg viewBox="0 0 16 16" aria-hidden="true"><path class="change" d="M8 2l6 6l-6 6l-6-6z"/></svg> another resin before it</li>
</ul>
)";

}  // namespace

std::string show_timelines(const CheckedQueue& night) {
  const NightClock clock(night.times);
  std::vector<PrinterPart> parts(night.printers.size());
  for (std::uint32_t i = 0; i < parts.size(); ++i) parts[i].printer = i;
  for (const PlannedPrint& print : night.plan.prints) parts[print.printer].prints.push_back(&print);
  std::string text = legend;
  for (const PrinterPart& part : parts) text += printer_html(night, part, clock);
  return text;
}

}  // namespace hairline
