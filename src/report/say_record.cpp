// Resin records for a person.
#include "hairline/say_record.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "../base/and_list.hpp"
#include "hairline/files.hpp"
#include "lines.hpp"
#include "words.hpp"

namespace hairline {
namespace {

// ---- facts ----

Item fact(const char* label, const std::string& text) {
  return {.lead = label, .text = text, .lead_columns = 12, .indent = 2};
}

Item warning(const std::string& text) {
  return {.lead = "!", .text = text, .lead_tone = Tone::doubtful, .lead_columns = 2, .indent = 2};
}

Paragraph beneath(const std::string& text, std::uint16_t indent, Tone tone = Tone::plain) {
  return {text, tone, indent};
}

std::string listed(const std::vector<std::string>& parts) {
  return joined(parts, ", ");
}

std::string with_unit(const std::optional<double>& value, const char* form) {
  return value ? fmt::format(fmt::runtime(form), number_text(*value)) : std::string();
}

std::string labelled(const char* label, const std::string& text) {
  return text.empty() ? text : std::string(label) + text;
}

std::string readings_text(const ResinRecord& record) {
  return listed({count_text(record.bracket.size(), "coupon", "coupons"),
                 count_text(record.cure_depth.size(), "cure depth", "cure depths"),
                 count_text(record.base.size(), "base", "bases"),
                 record.superseded.empty() ? std::string() : fmt::format("{} replaced", record.superseded.size())});
}

std::string ago_text(int days) {
  if (days < 0) return "dated in the future: check the date";
  return days == 0 ? "today" : count_text(static_cast<std::uint64_t>(days), "day ago", "days ago");
}

Document facts(const ResinRecord& record, const std::string& today) {
  const ResinRecord::Resin& resin = record.resin;
  const ResinRecord::Printer& printer = record.printer;
  const auto age = age_days(record, today);
  return {Heading{resin.label.empty() ? "Resin record" : resin.label},
          fact("file", record.file),
          fact("resin",
               listed({resin.kind, resin.colour, labelled("batch ", resin.batch), labelled("opened ", resin.opened)})),
          fact("printer", listed({printer.label, with_unit(printer.pitch_mm, "{} mm pixels"),
                                  with_unit(printer.lamp_power_percent, "lamp at {} %"),
                                  with_unit(printer.lamp_hours, "{} lamp hours"),
                                  with_unit(printer.irradiance_mw_per_cm2, "{} mW/cm2")})),
          fact("layers", number_text(record.layer_height_mm) + " mm high" +
                             (record.layer_height_assumed ? " (assumed; the record does not say)" : "")),
          fact("made", listed({record.conditions.date, with_unit(record.conditions.resin_temp_c, "{} degrees C"),
                               with_unit(record.conditions.humidity_percent, "{} % humidity"),
                               age ? ago_text(*age) : std::string()})),
          fact("readings", readings_text(record))};
}

// ---- fit ----

struct ParameterName {
  const char* field;
  const char* words;
};
constexpr std::array<ParameterName, 6> parameter_names{{{"bond_time_s", "bond time, s"},
                                                        {"fuse_time_s", "fuse time, s"},
                                                        {"blur_mm", "blur, mm"},
                                                        {"penetration_depth_mm", "penetration depth, mm"},
                                                        {"flat_time_s", "flat time, s"},
                                                        {"gel_time_s", "gel time, s"}}};

std::string words_of(const std::string& field) {
  for (const ParameterName& name : parameter_names)
    if (field == name.field) return name.words;
  return field;
}

template <class Estimates>
Table estimate_table(const Estimates& estimates) {
  Table table{
      {{"", TableColumn::Kind::text, 24, 2}, {"", TableColumn::Kind::number, 8}, {"", TableColumn::Kind::text, 0, 3}}};
  for (const Estimate& estimate : estimates) {
    TableRow row{{words_of(estimate.name), number_text(estimate.value), ""}};
    if (estimate.low < estimate.high) row.cells[2] = number_text(estimate.low) + " to " + number_text(estimate.high);
    if (!estimate.determined)
      row.notes.push_back(beneath("hardly more than what is assumed of any resin", 6, Tone::doubtful));
    table.rows.push_back(row);
  }
  return table;
}

TableRow residual_row(const Residual& residual, bool explain, const std::string& mark) {
  const auto size = [&residual](const std::optional<double>& value, const char* none) {
    return value ? fmt::format("{:.3f}", *value) : std::string(residual.read_mm ? none : "");
  };
  const std::string off = fmt::format("{:+.1f}", std::abs(residual.sigmas) < 0.05 ? 0.0 : residual.sigmas);
  return {{residual.what, size(residual.read_mm, ""), size(residual.predicted_mm, "-"), explain ? off : "", mark},
          mark.empty() ? Tone::plain : Tone::doubtful};
}

// Readings beside the fit; `explain`: how far off each is, and which is the worst.
void say_residuals(Document& said, const std::vector<Residual>& residuals, bool explain,
                   const std::vector<std::size_t>& odd = {}) {
  if (residuals.empty()) return;
  Table table{{{"", TableColumn::Kind::text, 30, 4},
               {"read", TableColumn::Kind::number, 8},
               {"fit", TableColumn::Kind::number, 8},
               {explain ? "off" : "", TableColumn::Kind::number, static_cast<std::uint16_t>(explain ? 7 : 0)},
               {"", TableColumn::Kind::text, 0, 1}}};
  const auto worst = std::max_element(residuals.begin(), residuals.end(), [](const Residual& a, const Residual& b) {
    return std::abs(a.sigmas) < std::abs(b.sigmas);
  });
  for (std::size_t i = 0; i < residuals.size(); ++i) {
    if (!explain && !residuals[i].read_mm) continue;
    const bool is_odd = std::find(odd.begin(), odd.end(), i) != odd.end();
    const bool is_worst =
        explain && &residuals[i] == &*worst && residuals.size() > 1 && std::abs(worst->sigmas) >= 0.05;
    table.rows.push_back(residual_row(residuals[i], explain, is_odd ? "< read it again" : is_worst ? "< worst" : ""));
  }
  if (table.rows.empty()) return;
  said.push_back(Heading{"The readings beside the fit"});
  said.push_back(table);
  const bool steps = std::any_of(residuals.begin(), residuals.end(), [](const Residual& one) { return one.step; });
  said.push_back(beneath(fmt::format("mm{}{}", explain ? "; off: read less fit, in standard deviations" : "",
                                     steps ? "; of what is read in steps the fit may lie down to a step lower" : ""),
                         4, Tone::quiet));
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

Table limit_table(const std::vector<CurvePoint>& points) {
  Table table{{{"time s", TableColumn::Kind::number, 10},
               {"wall", TableColumn::Kind::number, 9},
               {"slot", TableColumn::Kind::number, 9},
               {"pin", TableColumn::Kind::number, 9},
               {"hole", TableColumn::Kind::number, 9},
               {"flat slot", TableColumn::Kind::number, 11}}};
  for (const CurvePoint& point : points)
    table.rows.push_back(
        {{fmt::format("{:.2f}", point.exposure_s), limit_text(point.wall_mm), limit_text(point.slot_mm),
          limit_text(point.pin_mm), limit_text(point.hole_mm), limit_text(point.flat_slot_mm)}});
  return table;
}

// Top of the plot: what shows all curves but the steep ends.
double plot_top_mm(const std::vector<CurvePoint>& points) {
  double top = 0;
  for (const CurvePoint& point : points)
    for (const Curve& curve : plotted) top = std::max(top, (point.*curve.limit).value_or(0));
  return std::clamp(std::ceil(top * 20) / 20, 0.05, 0.6);
}

Picture limit_picture(const std::vector<CurvePoint>& points) {
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
  Picture picture{"limit curves", "mm against time: w wall, s slot, p pin, h hole, * several"};
  for (std::size_t row = 0; row < rows; ++row) {
    const bool labelled_row = row == 0 || row + 1 == rows;
    const std::string label = labelled_row ? fmt::format("{:.2f}", row == 0 ? top_mm : 0.0) : "";
    picture.drawing.push_back(padded_left(label, 6) + " |" + grid[row]);
  }
  const std::string last = fmt::format("{:.2f} s", points.back().exposure_s);
  picture.drawing.push_back("       +" + std::string(points.size(), '-'));
  picture.drawing.push_back(
      "        " + padded(fmt::format("{:.2f} s", points.front().exposure_s), points.size() - last.size()) + last);
  return picture;
}

void say_curves(Document& said, const CureModel& model) {
  constexpr std::uint32_t table_steps = 8, plot_steps = 47;
  const auto table = curve_table(model, model.valid_from_s, model.valid_to_s, table_steps);
  const auto plot = curve_table(model, model.valid_from_s, model.valid_to_s, plot_steps);
  if (!table || !plot) return;  // a range of one time has no curve
  said.push_back(Heading{"What prints at which time"});
  said.push_back(limit_table(*table));
  said.push_back(
      beneath("Thinnest wall and pin that stand, narrowest slot and hole that stay open, mm.", 2, Tone::quiet));
  said.push_back(limit_picture(*plot));
}

// ---- the end: what to do ----

std::string fit_call(const ResinRecord& record) {
  return "hairline record fit " + shell_word(record.file);
}

std::string times_text(const std::vector<double>& times_s) {
  return and_list(times_s, number_text) + " s";
}

// What readings make surer: the ends of the range of which `use_text` tells.
constexpr const char* sure_then = "then the first and last good time are sure to";

// "Print 2.2 and 2.8 s: then the first and last good time are sure to 4 %."; empty where nothing would help.
std::vector<std::string> next_steps(const std::vector<NextPrint>& next) {
  std::vector<std::string> steps;
  for (const bool printed : {true, false}) {
    std::vector<double> times_s;
    std::string read;
    double after = 0;
    for (const NextPrint& one : next) {
      if (one.read.empty() == printed) continue;
      read = times_s.empty() || read == one.read ? one.read : "what was not read yet";
      times_s.push_back(one.exposure_s);
      after = one.log_sd_after;
    }
    if (times_s.empty()) continue;
    std::sort(times_s.begin(), times_s.end());
    const char* coupons = times_s.size() == 1 ? "coupon" : "coupons";
    steps.push_back(printed ? fmt::format("Read the {} on the {} of {}, printed already: {} {}.", read, coupons,
                                          times_text(times_s), sure_then, percent_text(after))
                            : fmt::format("Print {}: {} {}.", times_text(times_s), sure_then, percent_text(after)));
  }
  return steps;
}

std::string use_text(const ResinRecord& record, const TimeToUse& use) {
  const CureModel& model = *record.fit;
  const std::string range = use.from_s < use.to_s
                                ? fmt::format(" (good from {} to {} s)", number_text(use.from_s), number_text(use.to_s))
                                : std::string();
  return fmt::format(
      "Use {} s for ordinary jobs{}; walls from {:.2f} mm print and slots from {:.2f} mm stay open then; a base of {} "
      "s.",
      number_text(use.exposure_s), range, wall_limit_mm(model, use.exposure_s), slot_limit_mm(model, use.exposure_s),
      number_text(usual_base_s(use.exposure_s, record.base)));
}

// How weak the record is and what would help, and as the last words the time to use.
void say_use(Document& said, const ResinRecord& record, bool with_steps) {
  const std::string weak = weakness(record);
  if (!weak.empty()) said.push_back(warning(weak));
  if (const auto next = next_prints(record); with_steps && !weak.empty() && next)
    for (const std::string& step : next_steps(*next)) said.push_back(Paragraph{step});
  const auto use = time_to_use(record);
  if (!use) {
    said.push_back(Paragraph{"No coupon stood: there is no time to use yet. Print longer ones.", Tone::strong});
    return;
  }
  const CureModel& model = *record.fit;
  if (use->exposure_s < model.valid_from_s - 0.05 || use->exposure_s > model.valid_to_s + 0.05)
    said.push_back(
        warning(fmt::format("{} s lies beyond the times that were printed: print a coupon there before you "
                            "rely on it.",
                            number_text(use->exposure_s))));
  if (model.log_covariance && odd_readings(record).empty())  // the spread rests on readings that agree
    said.push_back(
        Paragraph{fmt::format("The time to use is sure to about {}.", percent_text(even_time_log_sd(model)))});
  said.push_back(Paragraph{use_text(record, *use), Tone::strong});
}

void say_odd(Document& said, const ResinRecord& record, const FitReport& report) {
  for (const std::size_t i : report.odd) {
    const Residual& odd = report.residuals[i];
    const std::string read = odd.read_mm && odd.predicted_mm ? fmt::format(" (read {:.3f} mm, the fit says {:.3f} mm)",
                                                                           *odd.read_mm, *odd.predicted_mm)
                                                             : std::string();
    said.push_back(warning(fmt::format("The {}{} does not agree with the others; read it again.{}", odd.what, read,
                                       report.left_out ? " The fit was made without it." : "")));
  }
  if (!report.odd.empty() && !report.left_out)
    said.push_back(beneath(
        fmt::format("`{} --leave-out` fits without {}.", fit_call(record), report.odd.size() == 1 ? "it" : "them"), 4));
}

// How the search went and what it rests on, in the terms of statistics.
void say_search(Document& said, const FitReport& report) {
  said.push_back(beneath(
      fmt::format("From {}, {} and {}; the search ended because {}.", count_text(report.size_count, "size", "sizes"),
                  count_text(report.look_count, "look", "looks"),
                  count_text(report.cure_depth_count, "cure depth", "cure depths"), report.stopped),
      2));
  if (report.priors.empty()) return;
  said.push_back(Heading{"What was assumed before any reading"});
  for (const std::string& prior : report.priors)
    said.push_back(Item{.lead = "-", .text = prior, .tone = Tone::quiet, .lead_columns = 2, .indent = 2});
}

constexpr const char* fit_heading = "Fit, with the range that holds the truth 9 times in 10";

}  // namespace

Document say_record(const ResinRecord& record, const std::string& today, bool explain) {
  Document said = facts(record, today);
  if (!record.fit) {
    said.push_back(Heading{});
    said.push_back(Paragraph{
        record.bracket.empty() && record.cure_depth.empty()
            ? fmt::format("There is no fit yet, and no reading: `hairline record read {}` asks for what you read.",
                          shell_word(record.file))
            : fmt::format("There is no fit yet: `{}` makes one from the readings.", fit_call(record)),
        Tone::doubtful});
    return said;
  }
  said.push_back(Heading{fit_heading});
  said.push_back(estimate_table(estimates(record)));
  said.push_back(
      beneath(fmt::format("Holds from {:.2f} to {:.2f} s{}.", record.fit->valid_from_s, record.fit->valid_to_s,
                          record.valid_range_assumed ? " (assumed; the record does not say)" : ""),
              2));
  if (!record.fitted_at.empty()) said.push_back(beneath(fmt::format("Fitted {}.", record.fitted_at), 2));
  say_curves(said, *record.fit);
  say_residuals(said, residuals(record, *record.fit), explain);
  said.push_back(Heading{});
  say_use(said, record, true);
  return said;
}

static std::string fits_again(const ResinRecord& record) {
  return fmt::format("`{}` brings the fit up to date.", fit_call(record));
}

Document say_reading(const ResinRecord& record, std::uint32_t changed) {
  Document said = {Paragraph{changed == 0 ? std::string("Nothing new: the record holds this already.")
                                          : fmt::format("{} taken in.", count_text(changed, "reading", "readings"))},
                   Paragraph{fmt::format("{} holds {}.", record.file, readings_text(record))}};
  if (changed > 0) said.push_back(Paragraph{fits_again(record)});
  return said;
}

Document say_taken_back(const ResinRecord& record, std::uint32_t taken) {
  return {Paragraph{fmt::format("{} taken back.", count_text(taken, "reading", "readings"))},
          Paragraph{fmt::format("{} holds {}.", record.file, readings_text(record))}, Paragraph{fits_again(record)}};
}

Document say_fit(const ResinRecord& record, const FitReport& report, bool explain) {
  std::vector<Estimate> parameters = report.parameters;
  if (report.gel_time) parameters.push_back(*report.gel_time);
  Document said = {
      Heading{fit_heading}, estimate_table(parameters),
      beneath(fmt::format("Blur is taken as {}; holds from {:.2f} to {:.2f} s.", word_of(report.model.blur_shape),
                          report.model.valid_from_s, report.model.valid_to_s),
              2)};
  if (explain) say_search(said, report);
  say_residuals(said, report.residuals, explain, report.odd);
  said.push_back(Heading{});
  say_odd(said, record, report);
  say_use(said, record, true);
  return said;
}

Document say_next_prints(const ResinRecord& record, const std::vector<NextPrint>& next) {
  Document said;
  if (next.empty()) said.push_back(Paragraph{"No further print or reading would make the record much surer."});
  for (const NextPrint& one : next) {
    const std::string what = one.read.empty() ? fmt::format("Print {}, {}", exposure_text(one.exposure_s), one.why)
                                              : fmt::format("Read the {} on the coupon of {}, printed already",
                                                            one.read, exposure_text(one.exposure_s));
    said.push_back(Item{.lead = fmt::format("{}.", said.size() + 1),
                        .text = fmt::format("{}: {} {} instead of {}.", what, sure_then, percent_text(one.log_sd_after),
                                            percent_text(one.log_sd_before)),
                        .lead_tone = Tone::strong,
                        .lead_columns = 3,
                        .indent = 2});
  }
  said.push_back(Heading{});
  say_use(said, record, false);
  return said;
}

}  // namespace hairline
