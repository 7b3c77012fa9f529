// Resin records for a person.
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "hairline/files.hpp"
#include "hairline/record_report.hpp"
#include "page.hpp"
#include "words.hpp"

namespace hairline {
namespace {

// ---- facts ----

void write_fact(Page& page, const char* label, const std::string& text) {
  if (!text.empty()) page.beside("  " + padded(label, 12), visible(text), Tone::quiet);
}

std::string joined(const std::vector<std::string>& parts) {
  std::string text;
  for (const std::string& part : parts)
    if (!part.empty()) text += (text.empty() ? "" : ", ") + part;
  return text;
}

std::string with_unit(const std::optional<double>& value, const char* form) {
  return value ? fmt::format(fmt::runtime(form), number_text(*value)) : std::string();
}

std::string labelled(const char* label, const std::string& text) {
  return text.empty() ? text : std::string(label) + text;
}

std::string readings_text(const ResinRecord& record) {
  return joined({count_text(record.bracket.size(), "coupon", "coupons"),
                 count_text(record.cure_depth.size(), "cure depth", "cure depths"),
                 count_text(record.base.size(), "base", "bases"),
                 record.superseded.empty() ? std::string() : fmt::format("{} replaced", record.superseded.size())});
}

void write_facts(Page& page, const ResinRecord& record, const std::string& today) {
  const ResinRecord::Resin& resin = record.resin;
  const ResinRecord::Printer& printer = record.printer;
  page.paragraph(visible(resin.label.empty() ? "Resin record" : resin.label), 0, Tone::strong);
  write_fact(page, "file", record.file);
  write_fact(page, "resin",
             joined({resin.kind, resin.colour, labelled("batch ", resin.batch), labelled("opened ", resin.opened)}));
  write_fact(
      page, "printer",
      joined({printer.label, with_unit(printer.pitch_mm, "{} mm pixels"),
              with_unit(printer.lamp_power_percent, "lamp at {} %"), with_unit(printer.lamp_hours, "{} lamp hours"),
              with_unit(printer.irradiance_mw_per_cm2, "{} mW/cm2")}));
  write_fact(page, "layers",
             number_text(record.layer_height_mm) + " mm high" +
                 (record.layer_height_assumed ? " (assumed; the record does not say)" : ""));
  const auto age = age_days(record, today);
  write_fact(page, "made",
             joined({record.conditions.date, with_unit(record.conditions.resin_temp_c, "{} degrees C"),
                     with_unit(record.conditions.humidity_percent, "{} % humidity"),
                     age ? fmt::format("{} days ago", *age) : std::string()}));
  write_fact(page, "readings", readings_text(record));
}

// ---- fit ----

struct ParameterName {
  const char* field;
  const char* words;
};
constexpr std::array<ParameterName, 5> parameter_names{{{"bond_time_s", "bond time, s"},
                                                        {"fuse_time_s", "fuse time, s"},
                                                        {"blur_mm", "blur, mm"},
                                                        {"penetration_depth_mm", "penetration depth, mm"},
                                                        {"gel_time_s", "gel time, s"}}};

std::string words_of(const std::string& field) {
  for (const ParameterName& name : parameter_names)
    if (field == name.field) return name.words;
  return field;
}

void write_estimate(Page& page, const Estimate& estimate) {
  std::string line = "  " + padded(words_of(estimate.name), 24) + padded_left(fmt::format("{:.4g}", estimate.value), 8);
  if (estimate.low < estimate.high) line += fmt::format("   {:.4g} to {:.4g}", estimate.low, estimate.high);
  page.line(line);
  if (!estimate.determined) page.paragraph("hardly more than what is assumed of any resin", 6, Tone::doubtful);
}

std::string residual_row(std::string_view what, std::string_view read, std::string_view predicted,
                         std::string_view sigmas) {
  return padded(shortened(what, 30), 30) + padded_left(std::string(read), 8) + padded_left(std::string(predicted), 8) +
         padded_left(std::string(sigmas), 7);
}

std::string residual_text(const Residual& residual) {
  const auto size = [&residual](const std::optional<double>& value, const char* none) {
    return value ? fmt::format("{:.3f}", *value) : std::string(residual.read_mm ? none : "");
  };
  return residual_row(visible(residual.what), size(residual.read_mm, ""), size(residual.predicted_mm, "-"),
                      fmt::format("{:+.1f}", std::abs(residual.sigmas) < 0.05 ? 0.0 : residual.sigmas));
}

void write_residuals(Page& page, const std::vector<Residual>& residuals) {
  if (residuals.empty()) return;
  page.heading("How the readings sit in the fit");
  page.line("    " + residual_row("", "read", "fit", "off"), Tone::quiet);
  const auto worst = std::max_element(residuals.begin(), residuals.end(), [](const Residual& a, const Residual& b) {
    return std::abs(a.sigmas) < std::abs(b.sigmas);
  });
  for (auto residual = residuals.begin(); residual != residuals.end(); ++residual) {
    const bool marked = residual == worst && residuals.size() > 1 && std::abs(worst->sigmas) >= 0.05;
    page.line("    " + residual_text(*residual) + (marked ? " < worst" : ""), marked ? Tone::doubtful : Tone::plain);
  }
  page.paragraph("mm; off: read less fit, in standard deviations", 4, Tone::quiet);
}

// ---- curves ----

using Limit = std::optional<double> CurvePoint::*;
struct Curve {
  const char* name;
  char mark;
  Limit limit;
};
constexpr std::array<Curve, 4> plotted{{{"wall", 'w', &CurvePoint::wall_mm},
                                        {"slot", 's', &CurvePoint::slot_mm},
                                        {"pin", 'p', &CurvePoint::pin_mm},
                                        {"hole", 'h', &CurvePoint::hole_mm}}};

std::string limit_text(const std::optional<double>& limit) {
  return limit ? fmt::format("{:.3f}", *limit) : std::string("-");
}

void write_curve_table(Page& page, const std::vector<CurvePoint>& points) {
  const auto row = [](const std::array<std::string, 6>& cells) {
    std::string line = " ";
    for (const std::string& cell : cells) line += padded_left(cell, &cell == &cells.back() ? 11 : 9);
    return line;
  };
  page.line(row({"time s", "wall", "slot", "pin", "hole", "flat slot"}), Tone::quiet);
  for (const CurvePoint& point : points)
    page.line(row({fmt::format("{:.2f}", point.exposure_s), limit_text(point.wall_mm), limit_text(point.slot_mm),
                   limit_text(point.pin_mm), limit_text(point.hole_mm), limit_text(point.flat_slot_mm)}));
  page.paragraph("Thinnest wall and pin that stand, narrowest slot and hole that stay open, mm.", 2, Tone::quiet);
}

// Top of the plot: what shows all curves but the steep ends.
double plot_top_mm(const std::vector<CurvePoint>& points) {
  double top = 0;
  for (const CurvePoint& point : points)
    for (const Curve& curve : plotted) top = std::max(top, (point.*curve.limit).value_or(0));
  return std::clamp(std::ceil(top * 20) / 20, 0.05, 0.6);
}

void write_plot(Page& page, const std::vector<CurvePoint>& points) {
  constexpr std::size_t rows = 12;
  const double top_mm = plot_top_mm(points);
  std::vector<std::string> grid(rows, std::string(points.size(), ' '));
  for (std::size_t column = 0; column < points.size(); ++column) {
    for (const Curve& curve : plotted) {
      const std::optional<double> limit = points[column].*curve.limit;
      if (!limit || *limit > top_mm) continue;
      const auto row = static_cast<std::size_t>(std::lround(*limit / top_mm * (rows - 1)));
      char& cell = grid[rows - 1 - row][column];
      cell = cell == ' ' ? curve.mark : '*';
    }
  }
  page.gap();
  for (std::size_t row = 0; row < rows; ++row) {
    const bool labelled_row = row == 0 || row + 1 == rows;
    const std::string label = labelled_row ? fmt::format("{:.2f}", row == 0 ? top_mm : 0.0) : "";
    page.line(padded_left(label, 6) + " |" + grid[row]);
  }
  const std::string last = fmt::format("{:.2f} s", points.back().exposure_s);
  page.line("       +" + std::string(points.size(), '-'));
  page.line("        " + padded(fmt::format("{:.2f} s", points.front().exposure_s), points.size() - last.size()) +
            last);
  page.paragraph("mm against time: w wall, s slot, p pin, h hole, * several", 8, Tone::quiet);
}

void write_curves(Page& page, const CureModel& model) {
  constexpr std::uint32_t table_steps = 8, plot_steps = 47;
  const auto table = curve_table(model, model.valid_from_s, model.valid_to_s, table_steps);
  const auto plot = curve_table(model, model.valid_from_s, model.valid_to_s, plot_steps);
  if (!table || !plot) return;  // a range of one time has no curve
  page.heading("What prints at which time");
  write_curve_table(page, *table);
  write_plot(page, *plot);
}

}  // namespace

std::string to_record_terminal(const ResinRecord& record, const std::string& today, const TerminalStyle& style) {
  Page page(style);
  write_facts(page, record, today);
  if (!record.fit) {
    page.gap();
    page.paragraph("There is no fit yet: `hairline record fit` makes one from the readings.", 0, Tone::doubtful);
    return page.take();
  }
  page.heading("Fit, with 90 % ranges");
  for (const Estimate& estimate : estimates(*record.fit)) write_estimate(page, estimate);
  page.paragraph(fmt::format("Holds from {:.2f} to {:.2f} s{}.", record.fit->valid_from_s, record.fit->valid_to_s,
                             record.valid_range_assumed ? " (assumed; the record does not say)" : ""),
                 2);
  if (!record.fitted_at.empty()) page.paragraph(visible(fmt::format("Fitted {}.", record.fitted_at)), 2);
  if (const std::string weak = weakness(record); !weak.empty()) page.beside("  ! ", visible(weak), Tone::doubtful);
  write_curves(page, *record.fit);
  write_residuals(page, residuals(record, *record.fit));
  return page.take();
}

std::string to_reading_terminal(const ResinRecord& record, std::uint32_t changed, const TerminalStyle& style) {
  Page page(style);
  page.paragraph(changed == 0 ? std::string("Nothing new: the record holds this already.")
                              : fmt::format("{} taken in.", count_text(changed, "reading", "readings")));
  page.paragraph(visible(fmt::format("{} holds {}.", record.file, readings_text(record))));
  if (changed > 0) page.paragraph("`hairline record fit` brings the fit up to date.");
  return page.take();
}

std::string to_fit_terminal(const FitReport& report, const TerminalStyle& style) {
  Page page(style);
  page.paragraph("Fit, with 90 % ranges", 0, Tone::strong);
  for (const Estimate& estimate : report.parameters) write_estimate(page, estimate);
  if (report.gel_time) write_estimate(page, *report.gel_time);
  page.paragraph(fmt::format("Blur is taken as {}; holds from {:.2f} to {:.2f} s.",
                             report.model.blur_shape == BlurShape::gaussian ? "gaussian" : "lorentzian",
                             report.model.valid_from_s, report.model.valid_to_s),
                 2);
  page.paragraph(
      fmt::format("From {}, {} and {}; the search ended because {}.", count_text(report.size_count, "size", "sizes"),
                  count_text(report.look_count, "look", "looks"),
                  count_text(report.cure_depth_count, "cure depth", "cure depths"), visible(report.stopped)),
      2);
  if (!report.weakness.empty()) page.beside("  ! ", visible(report.weakness), Tone::doubtful);
  write_residuals(page, report.residuals);
  if (report.priors.empty()) return page.take();
  page.heading("What was assumed before any reading");
  for (const std::string& prior : report.priors) page.beside("  - ", visible(prior), Tone::quiet, Tone::quiet);
  return page.take();
}

std::string to_plan_terminal(const std::vector<PlannedTime>& times, const TerminalStyle& style) {
  Page page(style);
  if (times.empty()) page.paragraph("No further time would make the record much surer.");
  for (std::size_t i = 0; i < times.size(); ++i) {
    const PlannedTime& time = times[i];
    page.beside(
        fmt::format("{:>3}. ", i + 1),
        fmt::format("{}: the ends of the window get sure to {} instead of {}. {}", exposure_text(time.exposure_s),
                    percent_text(time.log_sd_after), percent_text(time.log_sd_before), visible(time.why)),
        Tone::strong);
  }
  return page.take();
}

}  // namespace hairline
