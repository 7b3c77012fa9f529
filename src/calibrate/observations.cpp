// The likelihood of docs/calibration.md. Wedge and caliper readings: normal in log size, with the reading error over
// the size. Steps of a ladder: the limit lies between two steps (interval-censored). Looks: soft bounds on the time.
#include "observations.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "hairline/growth.hpp"
#include "reading_fields.hpp"

namespace hairline {
namespace {

constexpr std::array<Seen, 5> seen_in_order{Seen::wall, Seen::slot, Seen::pin, Seen::hole, Seen::flat_slot};
constexpr double endless = std::numeric_limits<double>::infinity();

// ISO 3: the rounded values of the R10 series over one decade.
constexpr std::array<double, 11> r10{1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8, 10};

double mantissa(double size_mm, double& decade) {
  decade = std::pow(10.0, std::floor(std::log10(size_mm) + 1e-9));
  return size_mm / decade;
}

// ln of the normal distribution function, good far into the tail.
double log_normal(double x) {
  if (x > -10) return std::log(std::erfc(-x / std::sqrt(2.0)) / 2);
  return -x * x / 2 - std::log(-x * std::sqrt(2 * std::numbers::pi)) - 1 / (x * x);
}

// ln of the chance of a standard normal to fall between a < b.
double log_between(double a, double b) {
  if (a > 0) {
    const double swapped = a;
    a = -b;
    b = -swapped;
  }
  const double upper = log_normal(b);
  return upper + std::log1p(-std::exp(std::min(-1e-12, log_normal(a) - upper)));
}

struct Bounds {
  double low = -endless, high = endless;
};

Bounds look_bounds(Look look, const LookBounds& bounds) {
  switch (look) {
    case Look::missing:
      return {-endless, -bounds.missing_from};
    case Look::under:
      return {-endless, -bounds.clear_from};
    case Look::slightly_under:
      return {-bounds.slight_to, -bounds.slight_from};
    case Look::crisp:
      return {-bounds.crisp_half_width, bounds.crisp_half_width};
    case Look::slightly_over:
      return {bounds.slight_from, bounds.slight_to};
    case Look::over:
      return {bounds.clear_from, endless};
  }
  return {};
}

double look_place(const Observation& o, const CureModel& model) {
  return std::log(o.exposure_s / even_time_s(model));
}

double look_cost(const Observation& o, const CureModel& model, const LookBounds& bounds) {
  const auto [low, high] = look_bounds(o.look, bounds);
  const double place = look_place(o, model);
  const double a = (low - place) / bounds.softness, b = (high - place) / bounds.softness;
  double cost = 0;
  if (low == -endless) {
    cost = -log_normal(b);
  } else if (high == endless) {
    cost = -log_normal(-a);
  } else {
    cost = -log_between(a, b);
  }
  if (o.look == Look::crisp) {
    const double size = std::log(std::clamp(even_size_mm(model), 1e-9, 1e9));
    const double z = (size - std::log(o.read_mm)) / bounds.crisp_size_px.log_sd;
    cost += z * z / 2;
  }
  // Anything but "missing" has stood: a wide wall had its bond time.
  if (o.look != Look::missing) cost -= log_normal(std::log(o.exposure_s / model.bond_time_s) / 0.05);
  return cost;
}

// Where nothing stands (or everything is open, or nothing is cured) although a size was read: a hill that leads back to
// where it is possible, higher than the worst fit there.
double impossible(const Observation& o, const CureModel& model, double gel_time_s) {
  const double needed = o.seen == Seen::wall || o.seen == Seen::pin ? model.bond_time_s
                        : o.seen == Seen::cure_depth                ? gel_time_s
                                                                    : model.fuse_time_s;
  return 1e10 * (1 + std::log(std::max(1.0, needed / o.exposure_s)));
}

// Log of read / predicted in standard deviations (of widths by caliper: read less predicted). An error in mm is error /
// size in log size, for a size half-way between the two: with the size as read a wall read too thick by chance would
// count for more than one read too thin, and with the predicted one a prediction near nothing would excuse any reading
// (docs/calibration.md).
double log_sigmas(const Observation& o, double predicted) {
  if (by_caliper(o.seen)) return (o.read_mm - predicted) / o.sd_mm;
  const double log_sd = o.sd_mm / ((o.read_mm + predicted) / 2);
  return std::log(o.read_mm / predicted) / log_sd;
}

double step_cost(const Observation& o, double predicted, const FitSettings& settings) {
  const double place = std::log(predicted);
  const double low = o.low_mm > 0 ? (std::log(o.low_mm) - place) / settings.ladder_softness : -endless;
  const double high = (std::log(o.read_mm) - place) / settings.ladder_softness;
  return low == -endless ? -log_normal(high) : -log_between(low, high);
}

// Without a stated error, a bracket whose sizes all are steps of the ladder was read off a ladder.
bool looks_like_ladder(const ResinRecord& record) {
  std::size_t sizes = 0;
  for (const auto& reading : record.bracket) {
    for (std::size_t i = 0; i < 4; ++i) {
      const auto value = size_mm(size_fields[i], reading);
      if (!value) continue;
      if (reading.reading_error_mm || !on_ladder(*value)) return false;
      ++sizes;
    }
  }
  return sizes >= 4;
}

// The coupon's pins and holes are a ladder (R10 from 0.1 mm): the step a size stands for, which may be typed in
// hundredths.
std::optional<double> round_step(double size_mm) {
  double decade = 1;
  mantissa(size_mm, decade);
  for (const double step : r10)
    if (decade * step > 0.099 && std::abs(decade * step - size_mm) < 0.0051) return decade * step;
  return std::nullopt;
}

// Pins and holes that all are steps were read off that ladder, whatever the walls were read off.
bool looks_like_rounds(const ResinRecord& record) {
  return std::all_of(record.bracket.begin(), record.bracket.end(), [](const BracketReading& reading) {
    const auto fits = [](const std::optional<double>& size) { return !size || round_step(*size); };
    return fits(reading.thinnest_pin_mm) && fits(reading.smallest_hole_mm);
  });
}

// The stair has slots of whole layers: sizes that all are whole layers were read off it.
bool looks_like_stair(const ResinRecord& record) {
  std::size_t slots = 0;
  for (const auto& reading : record.bracket) {
    if (!reading.narrowest_flat_slot_mm) continue;
    const double in_layers = *reading.narrowest_flat_slot_mm / record.layer_height_mm;
    if (std::abs(in_layers - std::round(in_layers)) > 0.02 || in_layers < 0.5) return false;
    ++slots;
  }
  return slots >= 2;
}

}  // namespace

bool on_ladder(double size_mm) {
  double decade = 1;
  const double m = mantissa(size_mm, decade);
  return std::any_of(r10.begin(), r10.end(), [&](double step) { return std::abs(m / step - 1) < 0.005; });
}

double step_below_mm(double size_mm) {
  double decade = 1;
  const double m = mantissa(size_mm, decade);
  for (std::size_t i = 0; i < r10.size(); ++i) {
    if (std::abs(m / r10[i] - 1) < 0.005) return decade * (i > 0 ? r10[i - 1] : 0.8);
  }
  return size_mm / std::pow(10.0, 0.1);
}

const char* name_of(Seen seen) {
  constexpr const char* names[] = {"thinnest wall",       "narrowest slot",     "thinnest pin",      "smallest hole",
                                   "narrowest flat slot", "width of the block", "width of the slot", "look",
                                   "cure depth"};
  return names[static_cast<std::size_t>(seen)];
}

std::string name_of(const Observation& o) {
  return fmt::format("{} at {} s", name_of(o.seen), number_text(o.exposure_s));
}

// How far an edge prints outside the drawn one; minus infinity where nothing prints.
static double edge_out_mm(const CureModel& model, double exposure_s) {
  return growth_mm(model, model.layer_height_mm, exposure_s).value_or(-std::numeric_limits<double>::infinity());
}

std::optional<double> predicted_mm(const Observation& o, const CureModel& model, double gel_time_s) {
  const double t = o.exposure_s;
  switch (o.seen) {
    case Seen::wall:
      return wall_limit_mm(model, t);
    case Seen::slot:
      return slot_limit_mm(model, t);
    case Seen::pin:
      return pin_limit_mm(model, t);
    case Seen::hole:
      return hole_limit_mm(model, t);
    case Seen::flat_slot:
      return flat_slot_limit_mm(model, t);
    case Seen::block_width:
      return o.drawn_mm + 2 * edge_out_mm(model, t);
    case Seen::slot_width:
      return o.drawn_mm - 2 * edge_out_mm(model, t);
    case Seen::look:
      return std::nullopt;
    case Seen::cure_depth:
      return model.penetration_depth_mm * std::log(t / gel_time_s);
  }
  return std::nullopt;
}

namespace {

// What a record's sizes were read off, where it does not say it itself.
struct Ladders {
  bool all = false, rounds = false;  // all sizes; the coupon's pins and holes
  double stair_mm = 0;               // height of a step of the flat slots; 0: none
};

// Sizes of one coupon. Of what was read off a ladder or a stair the step is known only.
void add_sizes(std::vector<Observation>& list, const BracketReading& reading, Observation o, const Ladders& off) {
  for (std::size_t i = 0; i < size_fields.size(); ++i) {
    const auto value = size_mm(size_fields[i], reading);
    if (!value) continue;
    o.seen = seen_in_order[i];
    o.read_mm = *value;
    const bool flat = o.seen == Seen::flat_slot, round = o.seen == Seen::pin || o.seen == Seen::hole;
    o.step = flat ? off.stair_mm > 0 : reading.ladder || off.all || reading.reading_error_mm == 0.0;
    o.low_mm = !o.step ? 0 : flat ? std::max(0.0, *value - off.stair_mm) : step_below_mm(*value);
    if (round && !o.step && off.rounds) {  // under the ladder's first step anything may be
      o.step = true;
      o.read_mm = *round_step(*value);
      o.low_mm = o.read_mm > 0.101 ? step_below_mm(o.read_mm) : 0;
    }
    list.push_back(o);
  }
}

// Widths by caliper of one coupon.
void add_widths(std::vector<Observation>& list, const BracketReading& reading, Observation o) {
  o.step = false;
  for (const auto& [seen, width] :
       {std::pair{Seen::block_width, reading.block_mm}, std::pair{Seen::slot_width, reading.slot_mm}}) {
    if (!width.drawn || !width.printed) continue;
    o.seen = seen;
    o.drawn_mm = *width.drawn;
    o.read_mm = *width.printed;
    list.push_back(o);
  }
}

}  // namespace

std::vector<Observation> observations(const ResinRecord& record, const FitSettings& settings) {
  const Ladders off{looks_like_ladder(record), looks_like_rounds(record),
                    looks_like_stair(record) ? record.layer_height_mm : 0};
  std::vector<Observation> list;
  for (const BracketReading& reading : record.bracket) {
    Observation o;
    o.exposure_s = reading.exposure_s;
    // A ladder's error of 0 says nothing of the caliper's.
    const double stated = reading.reading_error_mm.value_or(0);
    o.sd_mm = std::max(stated > 0 ? stated : settings.reading_error_mm, settings.least_reading_error_mm);
    add_sizes(list, reading, o, off);
    add_widths(list, reading, o);
    if (!has_sizes(reading) && reading.look) {
      o.seen = Seen::look;
      o.look = *reading.look;
      o.read_mm = settings.looks.crisp_size_px.median * record.printer.pitch_mm.value_or(0.05);
      list.push_back(o);
    }
  }
  for (const CureDepthReading& reading : record.cure_depth) {
    Observation o;
    o.seen = Seen::cure_depth;
    o.exposure_s = reading.exposure_s;
    o.read_mm = reading.depth_mm;
    o.sd_mm = settings.cure_depth_error_mm;
    list.push_back(o);
  }
  return list;
}

double cost(const Observation& o, const CureModel& model, double gel_time_s, const FitSettings& settings) {
  if (o.seen == Seen::look) return look_cost(o, model, settings.looks);
  const double predicted = *predicted_mm(o, model, gel_time_s);
  if (!(predicted > 0 && predicted < endless)) return impossible(o, model, gel_time_s);
  if (o.step) return step_cost(o, predicted, settings);
  const double z = log_sigmas(o, predicted);
  return z * z / 2;
}

double sigmas(const Observation& o, const CureModel& model, double gel_time_s, const FitSettings& settings) {
  if (o.seen == Seen::look) {
    const auto [low, high] = look_bounds(o.look, settings.looks);
    const double place = look_place(o, model);
    const double off = place < low ? low - place : place > high ? high - place : 0;
    return off / settings.looks.softness;
  }
  const double predicted = *predicted_mm(o, model, gel_time_s);
  if (!(predicted < endless)) return -99;
  if (!o.step) return predicted > 0 ? std::clamp(log_sigmas(o, predicted), -99.0, 99.0) : 99;
  if (predicted > o.read_mm) return std::max(-99.0, std::log(o.read_mm / predicted) / settings.ladder_softness);
  if (predicted < o.low_mm)
    return std::min(99.0, std::log(o.low_mm / std::max(predicted, 1e-9)) / settings.ladder_softness);
  return 0;
}

}  // namespace hairline
