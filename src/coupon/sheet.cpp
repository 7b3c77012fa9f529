/// The reading sheet: one A4 page. The picture is drawn from the same prisms as the masks.
#include <fmt/format.h>

#include <algorithm>

#include "../base/ascii.hpp"
#include "../calibrate/reading_fields.hpp"
#include "hairline/coupon.hpp"
#include "hairline/files.hpp"
#include "hairline/fit.hpp"
#include "hairline/record_charts.hpp"

namespace hairline {
namespace {

std::string escaped(const std::string& text) {
  std::string out;
  for (const char c : valid_utf8(text)) out += escaped_for_html(c);
  return out;
}

std::string points_of(const OutlineMm& outline, PointMm origin) {
  std::string out;
  for (const PointMm& p : outline) out += fmt::format("{:.3f},{:.3f} ", p.x - origin.x, p.y - origin.y);
  return out;
}

/// Lighter means higher.
std::string shade(std::uint32_t layer, std::uint32_t layers) {
  const int grey = 150 + static_cast<int>(95.0 * layer / layers);
  return fmt::format("rgb({0},{0},{0})", grey);
}

std::string polygon(const OutlineMm& outline, PointMm origin, const std::string& fill) {
  return fmt::format("<polygon points='{}' fill='{}' stroke='#333' stroke-width='.06'/>\n", points_of(outline, origin),
                     fill);
}

std::string note(double x, double y, std::string_view letter) {
  return fmt::format(
      "<circle cx='{0:.2f}' cy='{1:.2f}' r='1.15' fill='#fff' stroke='#000' stroke-width='.15'/>"
      "<text x='{0:.2f}' y='{2:.2f}' font-size='1.6' text-anchor='middle' font-weight='bold'>{3}</text>\n",
      x, y, y + 0.56, letter);
}

std::string small_text(PointMm at, std::string_view text) {
  return fmt::format("<text x='{:.2f}' y='{:.2f}' font-size='.95' text-anchor='middle'>{}</text>\n", at.x, at.y, text);
}

std::string dashed_box(const CouponBox& b, PointMm origin) {
  return fmt::format(
      "<rect x='{:.2f}' y='{:.2f}' width='{:.2f}' height='{:.2f}' fill='none' stroke='#333' stroke-width='.08' "
      "stroke-dasharray='.25 .2'/>\n",
      b.from.x - origin.x, b.from.y - origin.y, b.to.x - b.from.x, b.to.y - b.from.y);
}

/// Numbers beside every second long tick, at the far side of the scale.
std::string scale_numbers(const CouponWedge& w, PointMm origin) {
  const double aside = (w.direction == WedgeDirection::along_y ? -1 : 1) * (w.kind == WedgeKind::wall ? 2.95 : 3.35);
  const double ux = (w.thin_end.x - w.thick_end.x) / w.length_mm(), uy = (w.thin_end.y - w.thick_end.y) / w.length_mm();
  std::string out;
  for (const double width : {0.6, 0.4, 0.2, 0.0}) {
    if (width == 0.6 && w.direction != WedgeDirection::along_x) continue;  // no room, and the thick end is plain to see
    const PointMm p = w.place_of(width);
    const PointMm at{p.x - uy * aside - origin.x, p.y + ux * aside - origin.y + 0.3};
    out += small_text(at, width == 0 ? "0" : fmt::format("{:.1f}", width));
  }
  return out;
}

std::string picture(const Coupon& c, double width_mm) {
  const PointMm o = c.pad.from;
  const double w = c.pad.to.x - o.x, h = c.pad.to.y - o.y;
  std::string svg = fmt::format(
      "<svg style='width:{:.0f}mm' viewBox='-0.3 -0.3 {:.1f} {:.1f}' role='img' aria-label='the coupon seen from "
      "above'>\n",
      width_mm, w + 0.6, h + 0.6);
  std::vector<const CouponPrism*> order;
  for (const CouponPrism& p : c.prisms) order.push_back(&p);
  std::stable_sort(order.begin(), order.end(), [](auto* a, auto* b) { return a->to_layer < b->to_layer; });
  const std::uint32_t flat_from = c.flat_slots.front().box.from_layer;
  for (const CouponPrism* p : order) {
    const bool hidden = p->cuts && p->from_layer >= flat_from;  // flat slots lie under their roof
    if (hidden) continue;
    svg += polygon(p->outline, o, p->cuts ? "#444" : shade(p->to_layer, c.layers));
  }
  for (const CouponFlatSlot& s : c.flat_slots) {
    svg += dashed_box(s.box, o);
    svg += small_text({(s.box.from.x + s.box.to.x) / 2 - o.x, (s.box.from.y + s.box.to.y) / 2 - o.y + 0.35},
                      std::to_string(s.layers));
  }
  for (const CouponWedge& wedge : c.wedges) svg += scale_numbers(wedge, o);
  for (const OutlineMm& l : c.label) svg += fmt::format("<polygon points='{}' fill='#222'/>\n", points_of(l, o));
  svg += note(9, 1.8, "A") + note(12.1, 2, "A") + note(16.0, 10.9, "A");
  svg += note(4.5, 1.9, "B") + note(35.4, 8.4, "B") + note(11.5, 17.0, "B");
  svg += note(25.0, 11.6, "C") + note(24.3, 14.4, "D");
  svg += note(41.1, 10.1 - 5, "H") + note(44.9, 10.1 - 5, "K") + note(38.2, 18.0, "M");
  svg += note(13.3, 26.1, "F") + note(18.2, 28.5, "G") + note(25.2, 28.5 + 1.8, "E");
  svg += dashed_box(c.marks, o) + "<g font-size='.6' text-anchor='middle'>";
  const char* heads[] = {"10", "1", "0.1", "0.01"};
  for (int i = 0; i < 4; ++i) {
    svg += fmt::format("<text x='{:.2f}' y='{:.2f}'>{}</text>", c.marks.from.x - o.x + 0.7 + 1.8 * i,
                       c.marks.from.y - o.y + 0.8, heads[i]);
  }
  return svg + "</g></svg>\n";
}

// What the record says so far, beside the picture; nothing without a record or a fit that has curves.
std::string known_limits(const CouponSettings& settings) {
  if (!settings.record || !settings.record->fit) return {};
  const ResinRecord& record = *settings.record;
  const std::string chart = limit_chart(*record.fit, record.bracket, time_to_use(record));
  if (chart.empty()) return {};
  const std::string off = residual_chart(record);
  return fmt::format(
      "<figure>{}{}<figcaption>What {} printed so far: thinnest wall and pin that stand, narrowest slot "
      "and hole that stay open. Marks are readings{}.</figcaption></figure>\n",
      chart, off, record.resin.label.empty() ? "this resin" : escaped(record.resin.label),
      off.empty() ? "" : "; below, how far each is off the fit, in standard deviations");
}

std::string counted(std::uint32_t n, const char* one, const char* many) {
  return n == 0 ? "" : fmt::format("{} {}", n, n == 1 ? one : many);
}

std::string mark_words(double exposure_s) {
  const ExposureMark m = exposure_mark(exposure_s);
  std::string out;
  for (const std::string& part :
       {counted(m.tens, "ten", "tens"), counted(m.ones, "one", "ones"), counted(m.tenths, "tenth", "tenths"),
        counted(m.hundredths, "hundredth", "hundredths")}) {
    if (!part.empty()) out += (out.empty() ? "" : ", ") + part;
  }
  return out;
}

// A reading's column is called as its option is: "--flat-slot" heads "flat slot".
std::string heading(const FieldRule& rule) {
  std::string name = std::string(rule.option).substr(2);
  std::replace(name.begin(), name.end(), '-', ' ');
  return fmt::format("<th{}>{} {}</th>", rule.several ? " colspan='3'" : " rowspan='2'", rule.letter, name);
}

std::string reading_table(const CouponSettings& settings) {
  std::string heads, directions, cells;
  for (const FieldRule& rule : asked_rules()) {
    if (rule.role == Role::print) continue;
    heads += heading(rule);
    cells += rule.several ? "<td></td><td></td><td></td>" : "<td></td>";
    if (rule.several) directions += "<th>x</th><th>y</th><th>slant</th>";
  }
  std::string out = fmt::format(
      "<table><thead><tr><th rowspan='2'>time</th><th rowspan='2'>bars (M)</th>{}</tr>\n<tr>{}</tr></thead>\n<tbody>\n",
      heads, directions);
  std::vector<double> times = settings.exposures_s;
  std::sort(times.begin(), times.end());
  for (const double t : times)
    out += fmt::format("<tr><td>{:.2f} s</td><td class='mark'>{}</td>{}</tr>\n", t, mark_words(t), cells);
  return out + "</tbody></table>\n";
}

constexpr std::string_view style = R"(<style>
@page { size: A4 portrait; margin: 9mm }
* { box-sizing: border-box }
body { font: 8.4pt/1.28 "DejaVu Sans", Arial, sans-serif; color: #000; background: #fff; width: 192mm; margin: 0 auto }
h1 { font-size: 13pt; margin: 0 0 1mm }
h2 { font-size: 9.5pt; margin: 2mm 0 .6mm }
p { margin: 0 0 1mm }
svg { display: block; margin: 1mm auto }
ol, ul { margin: 0; padding-left: 4.5mm; columns: 2; column-gap: 6mm }
li { break-inside: avoid; margin-bottom: .5mm }
ol { list-style: none; padding-left: 0 }
table { border-collapse: collapse; width: 100%; font-size: 7pt; margin-top: 1mm }
th, td { border: .2mm solid #000; padding: .3mm .6mm; text-align: center; min-width: 9mm }
td { height: 6mm }
td.mark { font-size: 5.8pt; line-height: 1.1 }
.facts span { display: inline-block; margin-right: 4mm }
.pair { display: flex; align-items: center; gap: 3mm }
.pair svg { margin: 0 }
figure { margin: 0; width: 70mm }
.cautions { border: .4mm solid #000; padding: 1mm 2mm; margin-top: 2mm }
.cautions h2 { margin-top: 0 }
.dense table td { height: 4mm }
@media screen and (max-width: 192mm) {
body { width: auto; padding: 0 3mm; font-size: 11pt }
svg { max-width: 100%; height: auto }
ol, ul { columns: 1 }
.pair { flex-wrap: wrap }
.readings { overflow-x: auto }
}
</style>
)";

std::string look_list() {
  std::string out;
  for (std::size_t i = 0; i < std::size(look_words); ++i)
    out += fmt::format("{}<b>{}</b>: {}", i == 0 ? "" : "; ", look_words[i], look_meanings[i]);
  return out + ".";
}

std::string how_to_read(const Coupon& c) {
  std::string out = "<h2>What to read, in the order in which <code>hairline record read</code> asks</h2>\n<ol>\n";
  for (const FieldRule& rule : asked_rules()) {
    const bool look = rule.words.data() == look_words;
    out += fmt::format("<li><b>{} {}</b>. {}</li>\n", rule.letter, look ? "Look" : rule.question,
                       look ? look_list() : how_to_take(rule.letter, c.layer_height_mm));
  }
  return out +
         "</ol>\n<p>Leave out what you cannot read. Numbers may have a unit and a decimal comma. Wash and cure all "
         "coupons alike and read them on the same day. The cut corner of the pad is at the lower left; if it is not, "
         "the "
         "printer mirrors.</p>\n";
}

constexpr std::string_view cautions = R"(<div class="cautions"><h2>Cautions</h2>
<ul>
<li><b>Gloves</b> (nitrile) and <b>eye protection</b> whenever resin is not fully cured. Uncured resin can make skin allergic for life; wash
 skin with soap and water, never with solvent.</li>
<li><b>Ventilation</b>: work where the air is changed; no food or drink nearby; keep children and animals away.</li>
<li><b>UV</b>: do not look into the lamp or a curing box that is open.</li>
<li><b>Solvent</b> (alcohol and the like) burns and its vapour ignites: no flame, no spark, lid on.</li>
<li><b>Waste</b>: cure rests, wipes and washing liquid, then hand them in as your local codes say; nothing down the drain.</li>
<li>Thin edges and snapped strips are sharp. The resin's safety data sheet, local codes and licensed practice go before anything on this
 sheet.</li>
</ul></div>
)";

}  // namespace

std::string how_to_take(const std::string& letter, double layer_height_mm) {
  static constexpr std::pair<std::string_view, const char*> texts[] = {
      {"M",
       "Count the bars by eye or finger: tens, ones, tenths, hundredths from left to right. "
       "A print of coupon.stl has none: read the time that was scratched in."},
      {"A",
       "Loupe, light from the side. Follow each wall to where it stops standing and read its width on the scale "
       "beside it: one tick is 0.05 mm, long ones 0.1 mm. Estimate fifths. Type all three: 0.08 0.09 0.085."},
      {"B", "From the open end, the last place where the slot is still open to the bottom. Type all three."},
      {"C", "From the left 0.10, 0.125, 0.16, 0.20, 0.25, 0.315, 0.40, 0.50, 0.63 mm."},
      {"D", "The same sizes; try a hair or a thin wire."},
      {"E",
       "1 to 12 layers of {:.3g} mm; a bar on the pad marks the 4th, 8th and 12th. Hold it against the light or try a "
       "paper strip."},
      {"F", "Drawn 5.00 mm."},
      {"G", "Drawn 2.00 mm, inner jaws."},
      {"H", "One layer, free beneath: cut it off and lay it flat. (The thick bar K is only to look at.)"}};
  for (const auto& [of, text] : texts)
    if (of == letter) return fmt::format(fmt::runtime(text), layer_height_mm);
  return {};
}

std::string_view coupon_cautions() {
  return cautions;
}

std::string coupon_sheet(const Coupon& coupon, const CouponSettings& settings, const std::vector<CouponPrint>& prints) {
  const bool dense = settings.exposures_s.size() > 8;
  // What the steps and the table leave of the page goes to the picture.
  const double picture_height_mm = 120 - static_cast<double>(settings.exposures_s.size()) * (dense ? 4.2 : 6.2);
  const double aspect = (coupon.pad.to.x - coupon.pad.from.x) / (coupon.pad.to.y - coupon.pad.from.y);
  const std::string limits = known_limits(settings);
  const double picture_width_mm = std::clamp(picture_height_mm * aspect, 60.0, limits.empty() ? 140.0 : 118.0);
  std::string out =
      "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" "
      "content=\"width=device-width, initial-scale=1\"><title>Coupon reading sheet</title>\n";
  out += style;
  out += fmt::format("</head><body{}>\n<h1>Coupon reading sheet{}</h1>\n", dense ? " class=\"dense\"" : "",
                     settings.label.empty() ? "" : ": " + escaped(settings.label));
  out += fmt::format(
      "<p class=\"facts\"><span>Resin: {}</span><span>Printer: {}</span><span>Pixel: {:.4g} x {:.4g} mm</span>"
      "<span>Layer: {:.4g} mm, {} layers</span><span>Base: {} x {:.4g} s</span><br>"
      "<span>Date: ______________</span><span>Resin temperature: ______ C</span><span>Lamp hours: ______</span>"
      "<span>Read by: ______________</span></p>\n",
      settings.resin_label.empty() ? "______________" : escaped(settings.resin_label),
      settings.printer_label.empty() ? "______________" : escaped(settings.printer_label), coupon.pitch.x_mm,
      coupon.pitch.y_mm, coupon.layer_height_mm, coupon.layers, settings.base_layers, settings.base_s);
  const auto steps = coupon_steps(settings, prints);
  out += fmt::format("<p>{} {} or {} {} {}</p>\n", steps[0], steps[1], steps[2], steps[3], steps[4]);
  const std::string drawn = picture(coupon, picture_width_mm);
  out += limits.empty() ? drawn : "<div class=\"pair\">" + drawn + limits + "</div>\n";
  out += how_to_read(coupon);
  out += "<div class=\"readings\">" + reading_table(settings) + "</div>\n";
  out += cautions;
  return out + "</body></html>\n";
}

}  // namespace hairline
