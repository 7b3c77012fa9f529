// Resin records for a person.
#include "hairline/say_record.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

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

Document facts(const ResinRecord& record, const std::string& today) {
  const ResinRecord::Resin& resin = record.resin;
  const ResinRecord::Printer& printer = record.printer;
  const auto age = age_days(record, today);
  return {Heading{resin.label.empty() ? "Resin record" : resin.label},
          fact("file", record.file),
          fact("resin",
               joined({resin.kind, resin.colour, labelled("batch ", resin.batch), labelled("opened ", resin.opened)})),
          fact("printer", joined({printer.label, with_unit(printer.pitch_mm, "{} mm pixels"),
                                  with_unit(printer.lamp_power_percent, "lamp at {} %"),
                                  with_unit(printer.lamp_hours, "{} lamp hours"),
                                  with_unit(printer.irradiance_mw_per_cm2, "{} mW/cm2")})),
          fact("layers", number_text(record.layer_height_mm) + " mm high" +
                             (record.layer_height_assumed ? " (assumed; the record does not say)" : "")),
          fact("made", joined({record.conditions.date, with_unit(record.conditions.resin_temp_c, "{} degrees C"),
                               with_unit(record.conditions.humidity_percent, "{} % humidity"),
                               age ? fmt::format("{} days ago", *age) : std::string()})),
          fact("readings", readings_text(record))};
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

template <class Estimates>
Table estimate_table(const Estimates& estimates) {
  Table table{
      {{"", TableColumn::Kind::text, 24, 2}, {"", TableColumn::Kind::number, 8}, {"", TableColumn::Kind::text, 0, 3}},
      {}};
  for (const Estimate& estimate : estimates) {
    TableRow row{{words_of(estimate.name), fmt::format("{:.4g}", estimate.value), ""}, Tone::plain, {}};
    if (estimate.low < estimate.high) row.cells[2] = fmt::format("{:.4g} to {:.4g}", estimate.low, estimate.high);
    if (!estimate.determined)
      row.notes.push_back(beneath("hardly more than what is assumed of any resin", 6, Tone::doubtful));
    table.rows.push_back(row);
  }
  return table;
}

TableRow residual_row(const Residual& residual, bool marked) {
  const auto size = [&residual](const std::optional<double>& value, const char* none) {
    return value ? fmt::format("{:.3f}", *value) : std::string(residual.read_mm ? none : "");
  };
  const std::string off = fmt::format("{:+.1f}", std::abs(residual.sigmas) < 0.05 ? 0.0 : residual.sigmas);
  return {{residual.what, size(residual.read_mm, ""), size(residual.predicted_mm, "-"), off, marked ? "< worst" : ""},
          marked ? Tone::doubtful : Tone::plain,
          {}};
}

void say_residuals(Document& said, const std::vector<Residual>& residuals) {
  if (residuals.empty()) return;
  Table table{{{"", TableColumn::Kind::text, 30, 4},
               {"read", TableColumn::Kind::number, 8},
               {"fit", TableColumn::Kind::number, 8},
               {"off", TableColumn::Kind::number, 7},
               {"", TableColumn::Kind::text, 0, 1}},
              {}};
  const auto worst = std::max_element(residuals.begin(), residuals.end(), [](const Residual& a, const Residual& b) {
    return std::abs(a.sigmas) < std::abs(b.sigmas);
  });
  for (auto residual = residuals.begin(); residual != residuals.end(); ++residual)
    table.rows.push_back(
        residual_row(*residual, residual == worst && residuals.size() > 1 && std::abs(worst->sigmas) >= 0.05));
  said.push_back(Heading{"How the readings sit in the fit"});
  said.push_back(table);
  said.push_back(beneath("mm; off: read less fit, in standard deviations", 4, Tone::quiet));
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
               {"flat slot", TableColumn::Kind::number, 11}},
              {}};
  for (const CurvePoint& point : points)
    table.rows.push_back(
        {{fmt::format("{:.2f}", point.exposure_s), limit_text(point.wall_mm), limit_text(point.slot_mm),
          limit_text(point.pin_mm), limit_text(point.hole_mm), limit_text(point.flat_slot_mm)},
         Tone::plain,
         {}});
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
  Picture picture{"limit curves", "mm against time: w wall, s slot, p pin, h hole, * several", {}};
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

}  // namespace

Document say_record(const ResinRecord& record, const std::string& today) {
  Document said = facts(record, today);
  if (!record.fit) {
    said.push_back(Heading{});
    said.push_back(
        Paragraph{"There is no fit yet: `hairline record fit` makes one from the readings.", Tone::doubtful});
    return said;
  }
  said.push_back(Heading{"Fit, with 90 % ranges"});
  said.push_back(estimate_table(estimates(*record.fit)));
  said.push_back(
      beneath(fmt::format("Holds from {:.2f} to {:.2f} s{}.", record.fit->valid_from_s, record.fit->valid_to_s,
                          record.valid_range_assumed ? " (assumed; the record does not say)" : ""),
              2));
  if (!record.fitted_at.empty()) said.push_back(beneath(fmt::format("Fitted {}.", record.fitted_at), 2));
  said.push_back(warning(weakness(record)));
  say_curves(said, *record.fit);
  say_residuals(said, residuals(record, *record.fit));
  return said;
}

Document say_reading(const ResinRecord& record, std::uint32_t changed) {
  Document said = {Paragraph{changed == 0 ? std::string("Nothing new: the record holds this already.")
                                          : fmt::format("{} taken in.", count_text(changed, "reading", "readings"))},
                   Paragraph{fmt::format("{} holds {}.", record.file, readings_text(record))}};
  if (changed > 0) said.push_back(Paragraph{"`hairline record fit` brings the fit up to date."});
  return said;
}

Document say_fit(const FitReport& report) {
  std::vector<Estimate> parameters(report.parameters.begin(), report.parameters.end());
  if (report.gel_time) parameters.push_back(*report.gel_time);
  Document said = {
      Heading{"Fit, with 90 % ranges"}, estimate_table(parameters),
      beneath(fmt::format("Blur is taken as {}; holds from {:.2f} to {:.2f} s.", word_of(report.model.blur_shape),
                          report.model.valid_from_s, report.model.valid_to_s),
              2),
      beneath(
          fmt::format("From {}, {} and {}; the search ended because {}.",
                      count_text(report.size_count, "size", "sizes"), count_text(report.look_count, "look", "looks"),
                      count_text(report.cure_depth_count, "cure depth", "cure depths"), report.stopped),
          2),
      warning(report.weakness)};
  say_residuals(said, report.residuals);
  if (!report.priors.empty()) said.push_back(Heading{"What was assumed before any reading"});
  for (const std::string& prior : report.priors)
    said.push_back(Item{.lead = "-", .text = prior, .tone = Tone::quiet, .lead_columns = 2, .indent = 2});
  return said;
}

Document say_next_prints(const std::vector<NextPrint>& times) {
  if (times.empty()) return {Paragraph{"No further time would make the record much surer."}};
  Document said;
  for (const NextPrint& time : times)
    said.push_back(Item{.lead = fmt::format("{}.", said.size() + 1),
                        .text = fmt::format("{}: the ends of the window get sure to {} instead of {}. {}",
                                            exposure_text(time.exposure_s), percent_text(time.log_sd_after),
                                            percent_text(time.log_sd_before), time.why),
                        .lead_tone = Tone::strong,
                        .lead_columns = 3,
                        .indent = 2});
  return said;
}

}  // namespace hairline
