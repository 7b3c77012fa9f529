// Charts of a record as SVG.
#include "hairline/record_charts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "../base/numbers.hpp"
#include "hairline/fit.hpp"

namespace hairline {
namespace {

// A plot's frame: values to places in it. Units of the places are those of the viewBox.
struct Frame {
  double from_x = 0, to_x = 1, from_y = 0, to_y = 1;
  double height = 300;
  static constexpr double width = 480, left = 48, right = 14, top = 34, bottom = 44;

  double x(double value) const { return left + (value - from_x) / (to_x - from_x) * (width - left - right); }
  double y(double value) const {
    return height - bottom - (value - from_y) / (to_y - from_y) * (height - top - bottom);
  }
  bool holds(double at_x, double at_y) const {
    return at_x >= from_x && at_x <= to_x && at_y >= from_y && at_y <= to_y;
  }
};

std::string text(double x, double y, const char* anchor, std::string_view words) {
  return fmt::format("<text x=\"{:.1f}\" y=\"{:.1f}\" text-anchor=\"{}\">{}</text>\n", x, y, anchor, words);
}

std::string line(double x1, double y1, double x2, double y2, std::string_view look) {
  return fmt::format("<line x1=\"{:.1f}\" y1=\"{:.1f}\" x2=\"{:.1f}\" y2=\"{:.1f}\" {}/>\n", x1, y1, x2, y2, look);
}

std::string axes(const Frame& f, std::string_view x_name, std::string_view y_name) {
  constexpr std::string_view faint = "stroke=\"currentColor\" stroke-opacity=\"0.2\"";
  std::string out;
  const double step_x = even_step((f.to_x - f.from_x) / 7), step_y = even_step((f.to_y - f.from_y) / 5);
  for (double i = std::ceil(f.from_x / step_x - 1e-9) + 0.0; i * step_x <= f.to_x + 1e-9; ++i) {
    out += line(f.x(i * step_x), f.y(f.from_y), f.x(i * step_x), f.y(f.to_y), faint);
    out += text(f.x(i * step_x), f.y(f.from_y) + 17, "middle", number_text(i * step_x));
  }
  for (double i = std::ceil(f.from_y / step_y - 1e-9) + 0.0; i * step_y <= f.to_y + 1e-9; ++i) {
    out += line(f.x(f.from_x), f.y(i * step_y), f.x(f.to_x), f.y(i * step_y), faint);
    out += text(f.left - 6, f.y(i * step_y) + 4, "end", fmt::format("{:.3g}", i * step_y));
  }
  out += text(f.width - f.right, f.height - 6, "end", x_name);
  return out + text(4, f.top - 20, "start", y_name);
}

std::string begun(const Frame& f, std::string_view name, std::string_view label) {
  return fmt::format(
      "<svg class=\"{}\" viewBox=\"0 0 {:.0f} {:.0f}\" role=\"img\" aria-label=\"{}\" font-size=\"14\" "
      "fill=\"currentColor\">\n",
      name, f.width, f.height, label);
}

// ---- what is drawn of the limits ----

struct Kind {
  const char *name, *colour, *dashes;
  bool round, filled;  // of its marks: walls and pins are solid, slots and holes are empty; pins and holes are round
  std::optional<double> CurvePoint::*limit;
  std::optional<double> BracketReading::*read;
};
constexpr std::array<Kind, 4> kinds{
    {{"wall", "#D55E00", "none", false, true, &CurvePoint::wall_mm, &BracketReading::thinnest_wall_mm},
     {"slot", "#0072B2", "9 4", false, false, &CurvePoint::slot_mm, &BracketReading::narrowest_slot_mm},
     {"pin", "#009E73", "2 3", true, true, &CurvePoint::pin_mm, &BracketReading::thinnest_pin_mm},
     {"hole", "#CC79A7", "9 3 2 3", true, false, &CurvePoint::hole_mm, &BracketReading::smallest_hole_mm}}};

std::string mark(const Kind& kind, double x, double y, std::string_view title) {
  const std::string look = fmt::format("class=\"{}\" stroke=\"{}\" stroke-width=\"1.8\" fill=\"{}\" data-mark=\"{}\"",
                                       kind.name, kind.colour, kind.filled ? kind.colour : "none", kind.name);
  return kind.round
             ? fmt::format("<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"4\" {}><title>{}</title></circle>\n", x, y, look,
                           title)
             : fmt::format("<rect x=\"{:.1f}\" y=\"{:.1f}\" width=\"7\" height=\"7\" {}><title>{}</title></rect>\n",
                           x - 3.5, y - 3.5, look, title);
}

std::string curve(const Frame& f, const Kind& kind, const std::vector<CurvePoint>& points) {
  std::string path;
  bool drawing = false;
  for (const CurvePoint& point : points) {
    const std::optional<double> limit = point.*kind.limit;
    const bool shown = limit && f.holds(point.exposure_s, *limit);
    if (shown) path += fmt::format("{}{:.1f} {:.1f}", drawing ? "L" : "M", f.x(point.exposure_s), f.y(*limit));
    drawing = shown;
  }
  return fmt::format(
      "<path class=\"{}\" d=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"2\" stroke-dasharray=\"{}\"/>\n",
      kind.name, path, kind.colour, kind.dashes);
}

std::string legend(const Frame& f) {
  std::string out;
  double x = f.left + 78;
  for (const Kind& kind : kinds) {
    out += fmt::format(
        "<path class=\"{}\" d=\"M{:.1f} 13h30\" fill=\"none\" stroke=\"{}\" stroke-width=\"2\" "
        "stroke-dasharray=\"{}\"/>\n",
        kind.name, x, kind.colour, kind.dashes);
    out += text(x + 35, 17, "start", kind.name);
    x += 90;
  }
  return out;
}

// The name of an upright line, on the side of it that has room.
std::string line_name(const Frame& f, double x, double below, std::string_view words) {
  const bool last = x > f.width - f.right - 70;
  return text(last ? x - 5 : x + 5, f.y(f.to_y) + below, last ? "end" : "start", words);
}

std::string use_band(const Frame& f, const TimeToUse& use) {
  const double from = std::max(use.from_s, f.from_x), to = std::min(use.to_s, f.to_x);
  std::string out;
  if (from < to)
    out += fmt::format(
        "<rect class=\"use\" x=\"{:.1f}\" y=\"{:.1f}\" width=\"{:.1f}\" height=\"{:.1f}\" fill=\"#56B4E9\" "
        "fill-opacity=\"0.18\"/>\n",
        f.x(from), f.y(f.to_y), f.x(to) - f.x(from), f.y(f.from_y) - f.y(f.to_y));
  if (use.exposure_s < f.from_x || use.exposure_s > f.to_x) return out;
  const double x = f.x(use.exposure_s);
  out += line(x, f.y(f.from_y), x, f.y(f.to_y), "class=\"use\" stroke=\"currentColor\" stroke-width=\"1.5\"");
  return out + line_name(f, x, 13, fmt::format("use {:.3g} s", use.exposure_s));
}

std::string job_line(const Frame& f, double exposure_s) {
  const double x = f.x(exposure_s);
  return line(x, f.y(f.from_y), x, f.y(f.to_y), "class=\"job\" stroke=\"currentColor\" stroke-dasharray=\"3 4\"") +
         line_name(f, x, 29, "this job");
}

// Holds the fit's range and all readings; sizes up to 0.6 mm, as the steep ends of the curves say little.
Frame frame_of(const std::vector<BracketReading>& readings, const std::vector<CurvePoint>& points) {
  Frame f{.from_x = points.front().exposure_s, .to_x = points.back().exposure_s};
  double top_mm = 0.05;
  for (const Kind& kind : kinds) {
    for (const CurvePoint& point : points) top_mm = std::max(top_mm, std::min((point.*kind.limit).value_or(0), 0.6));
    for (const BracketReading& reading : readings) top_mm = std::max(top_mm, (reading.*kind.read).value_or(0));
  }
  f.to_y = std::ceil(top_mm * 20) / 20;
  return f;
}

}  // namespace

std::string limit_chart(const CureModel& model, const std::vector<BracketReading>& readings,
                        const std::optional<TimeToUse>& use, std::optional<double> job_s) {
  constexpr std::uint32_t steps = 120;
  double from_s = std::min(model.valid_from_s, job_s.value_or(model.valid_from_s));
  double to_s = std::max(model.valid_to_s, job_s.value_or(model.valid_to_s));
  for (const BracketReading& reading : readings) {
    from_s = std::min(from_s, reading.exposure_s);
    to_s = std::max(to_s, reading.exposure_s);
  }
  const auto points = curve_table(model, from_s, to_s, steps);
  if (!points) return {};  // a range of one time has no curve
  const Frame f = frame_of(readings, *points);
  std::string out = begun(f, "limit-chart",
                          "Thinnest wall and pin that stand, narrowest slot and hole that stay open, in mm against the "
                          "exposure in s; marks are readings") +
                    axes(f, "exposure, s", "width, mm") + legend(f);
  if (use) out += use_band(f, *use);
  if (job_s) out += job_line(f, *job_s);
  for (const Kind& kind : kinds) out += curve(f, kind, *points);
  for (const Kind& kind : kinds)
    for (const BracketReading& reading : readings)
      if (const auto read_mm = reading.*kind.read)
        out += mark(kind, f.x(reading.exposure_s), f.y(*read_mm),
                    fmt::format("{} read at {:.4g} s: {:.3g} mm", kind.name, reading.exposure_s, *read_mm));
  return out + "</svg>\n";
}

std::string residual_chart(const ResinRecord& record) {
  const std::vector<Residual> off = record.fit ? residuals(record, *record.fit) : std::vector<Residual>();
  if (off.empty()) return {};
  const auto [first, last] = std::minmax_element(
      off.begin(), off.end(), [](const Residual& a, const Residual& b) { return a.exposure_s < b.exposure_s; });
  const double room_s = std::max(0.05 * (last->exposure_s - first->exposure_s), 0.05);
  const Frame f{
      .from_x = first->exposure_s - room_s, .to_x = last->exposure_s + room_s, .from_y = -4, .to_y = 4, .height = 200};
  std::string out = begun(f, "residual-chart",
                          "How far each reading is off the fit, in standard deviations, against its exposure in s") +
                    axes(f, "exposure, s", "read less fit, standard deviations");
  out += line(f.left, f.y(0), f.width - f.right, f.y(0), "stroke=\"currentColor\" stroke-width=\"1.5\"");
  for (const Residual& one : off)
    out += fmt::format(
        "<circle cx=\"{:.1f}\" cy=\"{:.1f}\" r=\"4\" fill=\"#0072B2\" data-mark=\"residual\"><title>{}: {:+.1f}</title>"
        "</circle>\n",
        f.x(one.exposure_s), f.y(std::clamp(one.sigmas, -4.0, 4.0)), one.what, one.sigmas);
  return out + "</svg>\n";
}

}  // namespace hairline
