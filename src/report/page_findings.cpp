#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "hairline/files.hpp"
#include "html.hpp"
#include "lines.hpp"
#include "page_parts.hpp"
#include "words.hpp"

namespace hairline {
namespace {

constexpr std::size_t most_groups = 60, most_islands = 30, most_picture_bytes = 2400000;

const char* shape_of(const Detail& detail) {
  return detail.fate == Fate::vanish ? "missing" : "closed";
}

// ---- pictures ----

// The longest even one of at most two fifths of the width: one over an even step is one too.
double scale_bar_mm(double wide_mm) {
  return 1 / even_step(1 / (0.4 * wide_mm));
}

// A raster in hundredths of a mm, with a scale bar beneath.
std::string raster_html(const Raster& raster, const char* name, const std::string& says, const std::string& caption) {
  if (raster.values.empty()) return {};
  const double wide = 100 * raster.width_px * raster.pitch_x_mm, tall = 100 * raster.height_px * raster.pitch_y_mm;
  const double bar = 100 * scale_bar_mm(wide / 100), below = 0.1 * std::max(wide, tall);
  return fmt::format(
      "<figure class=\"raster {0}\"><svg role=\"img\" aria-label=\"{1}\" viewBox=\"0 0 {2:.4g} {3:.4g}\"><image "
      "class=\"pixels\" "
      "width=\"{2:.4g}\" height=\"{4:.4g}\" preserveAspectRatio=\"none\" href=\"{5}\"/><path class=\"bar\" d=\"M0 "
      "{6:.4g}v{7:.4g}v-{8:.4g}h{9:.4g}v-{8:.4g}v{7:.4g}\"/></svg><figcaption>{10}<span class=\"scale\">bar {11} "
      "mm</span></figcaption></figure>",
      name, html_text(says), wide, tall + below, tall, becomes_png(raster), tall + 0.3 * below, 0.6 * below,
      0.3 * below, bar, html_text(caption), number_text(bar / 100));
}

std::string slice_html(const Report& report, const DetailSlice& slice, const std::string& where) {
  const std::string now = "Prints at " + exposure_text(report.exposure_s);
  const std::string then = report.suggestion ? "At " + exposure_text(report.suggestion->exposure_s) : "";
  return raster_html(slice.drawn, "drawn", where + ", as drawn", "As drawn") +
         raster_html(slice.printed, "printed", where + ": " + now, now) +
         raster_html(slice.suggested, "suggested", where + ": " + then, then);
}

std::string pictures_html(const Report& report, const DetailPictures& pictures, bool open) {
  const std::size_t middle = pictures.slices.size() / 2;
  std::string text =
      fmt::format("<details class=\"look\"{}><summary>Look closely</summary><div class=\"pictures\" data-id=\"{}\">\n",
                  open ? " open" : "", pictures.id);
  for (std::size_t i = 0; i < pictures.slices.size(); ++i)
    text += fmt::format("<div class=\"slice\" data-layer=\"{}\"{}>{}</div>\n", pictures.slices[i].layer,
                        i == middle ? "" : " hidden",
                        slice_html(report, pictures.slices[i], fmt::format("Layer {}", pictures.slices[i].layer)));
  if (!pictures.slices.empty())
    text += fmt::format(
        "<p class=\"layer\"><label>Layer <output>{}</output> <input class=\"slices needs-js\" type=\"range\" "
        "min=\"0\" max=\"{}\" value=\"{}\"></label></p>\n",
        pictures.slices[middle].layer, pictures.slices.size() - 1, middle);
  const std::string cut = slice_html(report, pictures.upright, "Upright cut");
  if (!cut.empty())
    text += fmt::format("<h4>Cut upright along {}</h4>\n<div class=\"upright\">{}</div>\n",
                        pictures.along_x ? "x" : "y", cut);
  return text + "</div></details>\n";
}

// Pictures of a group: of the first member that has any.
const DetailPictures* pictures_of(const LossGroup& group, const Pictures* pictures) {
  if (pictures == nullptr) return nullptr;
  for (const Detail* detail : group.members)
    for (const DetailPictures& one : pictures->details)
      if (one.id == detail->id) return &one;
  return nullptr;
}

// What stands where no finding has an entry.
const char* nothing_text(const Report& report) {
  if (!report.record) return "A check with a resin record says what is lost.";
  if (report.whole_fails) return "The print fails as a whole; what single parts would lose is not listed.";
  return "Nothing is lost.";
}

// The ids of all members, rising: "1-8 11".
std::string ids_text(const LossGroup& group) {
  std::vector<std::uint32_t> ids;
  for (const Detail* member : group.members) ids.push_back(member->id);
  std::sort(ids.begin(), ids.end());
  std::string text;
  for (std::size_t i = 0, last = 0; i < ids.size(); i = last + 1) {
    last = i;
    while (last + 1 < ids.size() && ids[last + 1] == ids[last] + 1) ++last;
    text += fmt::format("{}{}", text.empty() ? "" : " ", ids[i]);
    if (last > i) text += fmt::format("-{}", ids[last]);
  }
  return text;
}

std::string entry_html(const Mark& mark, const std::string& text, const std::string& more) {
  return fmt::format(
      "<article class=\"entry {0}\" id=\"{1}\" data-key=\"{2}\" tabindex=\"-1\"><h3 aria-label=\"{5} {2}\"><span "
      "class=\"key "
      "{0}\">{2}</span></h3>\n"
      "<p>{3}</p>\n<p class=\"links\"><a class=\"back\" href=\"#mark-front-{2}\">Show it on the "
      "print</a>{4}\n</article>\n",
      mark.shape, mark.entry(), mark.key, html_text(text), more, mark.shape == "island" ? "Island" : "Finding");
}

// ---- the table ----

std::string number_cell(const char* name, double value, const std::string& text) {
  if (!std::isfinite(value)) return fmt::format("<td class=\"number\" data-field=\"{}\">–</td>", name);
  return fmt::format("<td class=\"number\" data-field=\"{}\" data-value=\"{:.6g}\">{}</td>", name, value, text);
}

std::string row_html(const Detail& detail, bool has_entry) {
  const std::string id = std::to_string(detail.id);
  const char* kind = detail.fate == Fate::vanish ? "part" : detail.flat ? "flat gap" : "gap";
  const char* outcome = !detail.lost ? "rounding" : detail.state == State::will ? "will be lost" : "may be lost";
  const double nan = std::numeric_limits<double>::quiet_NaN(), critical = detail.critical_exposure_s.value_or(nan);
  std::string text = fmt::format(
      "<tr data-id=\"{0}\" data-kind=\"{1}\" data-outcome=\"{2}\"><td class=\"number\" data-field=\"id\" "
      "data-value=\"{0}\">{3}</td><td>{1}</td><td>{2}</td>",
      id, kind, outcome, has_entry ? fmt::format("<a href=\"#finding-{0}\">{0}</a>", id) : id);
  text += number_cell("width_mm", detail.width_mm, mm_text(detail.width_mm)) +
          number_cell("extent_mm", detail.extent_mm, mm_text(detail.extent_mm)) +
          number_cell("from_layer", detail.from_layer, std::to_string(detail.from_layer)) +
          number_cell("to_layer", detail.to_layer, std::to_string(detail.to_layer)) +
          number_cell("x_mm", (detail.box.from.x + detail.box.to.x) / 2,
                      fmt::format("{:.1f}", (detail.box.from.x + detail.box.to.x) / 2)) +
          number_cell("y_mm", (detail.box.from.y + detail.box.to.y) / 2,
                      fmt::format("{:.1f}", (detail.box.from.y + detail.box.to.y) / 2)) +
          number_cell("probability", detail.probability, percent_text(detail.probability)) +
          number_cell("critical_exposure_s", critical, fmt::format("{:.2f}", critical)) +
          number_cell("harm_mm", detail.harm_mm, mm_text(detail.harm_mm));
  return text + "</tr>\n";
}

}  // namespace

Listed listed(const Report& report) {
  Listed listed;
  for (const State state : {State::will, State::may})
    for (LossGroup& group : lost_groups(report, state)) listed.groups.push_back(std::move(group));
  if (listed.groups.size() > most_groups) {
    listed.rest =
        fmt::format("{} more have no entry here; the table lists them.", members_text(listed.groups, most_groups));
    listed.groups.resize(most_groups);
  }
  for (const LossGroup& group : listed.groups)
    listed.marks.push_back({std::to_string(group.members.front()->id), shape_of(*group.members.front()),
                            loss_text(group), group.members.front()->box, group.members.front()->box});
  listed.islands = loose_islands(report);
  if (listed.islands.size() > most_islands) listed.islands.resize(most_islands);
  for (std::size_t i = 0; i < listed.islands.size(); ++i)
    listed.marks.push_back({fmt::format("i{}", i + 1), "island", island_text(*listed.islands[i]),
                            listed.islands[i]->box, listed.islands[i]->start_box()});
  return listed;
}

std::string entries_html(const Report& report, const Listed& listed, const Pictures* pictures) {
  std::string text;
  std::size_t bytes = 0;
  bool left_out = false;
  for (std::size_t i = 0; i < listed.marks.size(); ++i) {
    const Mark& mark = listed.marks[i];
    std::string more = "</p>";
    if (i < listed.groups.size()) {
      if (listed.groups[i].members.front()->critical_exposure_s)
        more = fmt::format(
            " <button type=\"button\" class=\"choose needs-js\" data-id=\"{}\" data-ids=\"{}\">Its chance over "
            "time</button></p>",
            mark.key, ids_text(listed.groups[i]));
      const DetailPictures* seen = pictures_of(listed.groups[i], pictures);
      std::string drawn = seen != nullptr && bytes < most_picture_bytes ? pictures_html(report, *seen, i < 3) : "";
      left_out = left_out || (pictures != nullptr && drawn.empty());
      bytes += drawn.size();
      more += drawn;
    }
    text += entry_html(mark, mark.name, more);
  }
  if (left_out)
    text += "<p class=\"quiet\" id=\"pictures-left-out\">The worst findings have pictures, the others none.</p>\n";
  if (!listed.rest.empty())
    text += fmt::format("<p class=\"quiet\" id=\"entries-left-out\">{}</p>\n", html_text(listed.rest));
  if (text.empty() || report.whole_fails || !report.record)
    text = fmt::format("<p>{}</p>\n", nothing_text(report)) + text;
  constexpr std::size_t on_paper = 4;  // as many as page.css prints
  if (listed.marks.size() > on_paper)
    text += fmt::format("<p class=\"quiet paper-only\">The first {} of {}; the page on a screen has all.</p>\n",
                        on_paper, listed.marks.size());
  return text;
}

std::string details_html(const Report& report, const Listed& listed) {
  std::set<std::uint32_t> entries;
  for (const LossGroup& group : listed.groups) entries.insert(group.members.front()->id);
  const std::size_t rows = std::min(report.details.size(), most_rows);
  std::string text;
  for (std::size_t i = 0; i < rows; ++i) text += row_html(report.details[i], entries.contains(report.details[i].id));
  return text;
}

}  // namespace hairline
