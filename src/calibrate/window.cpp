// What follows from a fitted model: the window of one size, curves as tables, and the next times worth printing.
#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "../base/and_list.hpp"
#include "../base/numbers.hpp"
#include "hairline/fit.hpp"
#include "observations.hpp"
#include "parameters.hpp"
#include "reading_fields.hpp"

namespace hairline {
namespace {

using Matrix5 = Eigen::Matrix<double, 5, 5>;
using Vector5 = Eigen::Matrix<double, 5, 1>;

Matrix5 covariance_of(const CureModel& model) {
  Matrix5 covariance = Matrix5::Zero();
  if (!model.log_covariance) return covariance;
  for (int i = 0; i < 5; ++i) {
    for (int k = 0; k < 5; ++k) {
      covariance(i, k) = (*model.log_covariance)[static_cast<std::size_t>(i)][static_cast<std::size_t>(k)];
    }
  }
  return covariance;
}

// Derivatives of value(model) with respect to the logs, by central differences.
template <class Value>
Vector5 slope(const CureModel& model, Value value) {
  constexpr double h = 1e-5;
  Vector5 derivative;
  const Logs logs = logs_of(model);
  for (std::size_t i = 0; i < logs.size(); ++i) {
    Logs up = logs, down = logs;
    up[i] += h;
    down[i] -= h;
    derivative(static_cast<Eigen::Index>(i)) = (value(with_logs(model, up)) - value(with_logs(model, down))) / (2 * h);
  }
  return derivative;
}

double log_from(const CureModel& model, double size_mm) {
  return std::log(model.bond_time_s / wall_light(model, size_mm));
}
double log_to(const CureModel& model, double size_mm) {
  return std::log(model.fuse_time_s / slot_light(model, size_mm));
}

struct Ends {
  Vector5 from, to;
};

double window_variance(const Ends& ends, const Matrix5& covariance) {
  return (ends.from.dot(covariance * ends.from) + ends.to.dot(covariance * ends.to)) / 2;
}

// 0.05 s, or what is finer where that is more than a tenth of the time.
double step_of(double time_s) {
  double step_s = 0.05;
  while (step_s > time_s / 10) step_s /= 5;
  return step_s;
}

// To full steps; without the digits that multiplying leaves behind.
double stepped(double time_s, double step_s, double (*round)(double)) {
  return six_digits(round(time_s / step_s) * step_s);
}

double up(double x) {
  return std::ceil(x - 1e-6);
}
double down(double x) {
  return std::floor(x + 1e-6);
}

// Information that reading `seen` on a coupon at time t would add (Fisher, linearised at the fit); none where it lies
// beyond the wedge of 0.6 mm or the stair of 12 layers. By caliper: on a block or a slot of any width.
Matrix5 information(const CureModel& model, Seen seen, double t, double error_mm) {
  Observation o;
  o.seen = seen;
  o.exposure_s = t;
  o.drawn_mm = by_caliper(seen) ? 0.3 : 0;
  const auto size = [&](const CureModel& m) { return *predicted_mm(o, m, 1); };
  const double here_mm = size(model), layer_mm = model.layer_height_mm;
  const bool flat = seen == Seen::flat_slot;
  const Vector5 derivative = slope(model, size);
  if (!(here_mm > 0 && here_mm < (flat ? 12 * layer_mm : 0.6)) || !derivative.allFinite()) return Matrix5::Zero();
  const double sd_mm = flat ? std::hypot(layer_mm / std::sqrt(12.0), error_mm) : error_mm;
  return derivative * derivative.transpose() / (sd_mm * sd_mm);
}

const std::vector<Seen> first_read{Seen::wall, Seen::slot, Seen::flat_slot};
const std::vector<Seen> then_read{Seen::pin, Seen::hole, Seen::block_width, Seen::slot_width};

// Which of these were not read on any coupon of that exposure.
std::vector<Seen> unread(const ResinRecord& record, double exposure_s, std::vector<Seen> list) {
  for (const BracketReading& r : record.bracket) {
    if (!same_number(r.exposure_s, exposure_s)) continue;
    const auto has = [&](Seen seen) {
      return r.look == Look::missing || (seen == Seen::wall && r.thinnest_wall_mm) ||
             (seen == Seen::slot && r.narrowest_slot_mm) || (seen == Seen::flat_slot && r.narrowest_flat_slot_mm) ||
             (seen == Seen::pin && r.thinnest_pin_mm) || (seen == Seen::hole && r.smallest_hole_mm) ||
             (seen == Seen::block_width && r.block_mm.printed) || (seen == Seen::slot_width && r.slot_mm.printed);
    };
    std::erase_if(list, has);
  }
  return list;
}

struct Candidate {
  double exposure_s = 0;
  std::vector<Seen> seen;
  bool printed = false;
  Matrix5 information = Matrix5::Zero();
};

// Two prints differ by the dose spread of both; twice that of one is told apart in five of six cases.
bool too_near(double a, double b) {
  return std::abs(std::log(a / b)) < 2 * usual_dose_spread - 1e-9;
}

// Where the narrowest slot is a quarter wider than at the even time; where nothing fuses, never.
double slots_closing_s(const CureModel& model) {
  return model.fuse_time_s / slot_light(model, 1.25 * even_size_mm(model));
}

// Coupons that are printed and not fully read (walls and slots before all else), then times a person would type: about
// 60 of them, in steps of 0.05 s or what is coarser, far enough from what is printed, and none at which a coupon may
// fall off.
std::vector<Candidate> candidates(const ResinRecord& record, const CureModel& model,
                                  const NextPrintSettings& settings) {
  std::vector<Candidate> list;
  const auto add = [&](double t, const std::vector<Seen>& seen, bool printed) {
    Candidate one{t, {}, printed};
    for (const Seen what : seen) {
      const Matrix5 more = information(model, what, t, settings.reading_error_mm);
      if (more.isZero(0)) continue;  // not to be seen there
      one.seen.push_back(what);
      one.information += more;
    }
    list.push_back(one);
  };
  std::vector<double> printed;
  for (const BracketReading& reading : record.bracket) {
    if (std::find(printed.begin(), printed.end(), reading.exposure_s) != printed.end()) continue;
    printed.push_back(reading.exposure_s);
    const bool begun = unread(record, reading.exposure_s, {Seen::wall, Seen::slot}).empty();
    add(reading.exposure_s, unread(record, reading.exposure_s, begun ? then_read : first_read), true);
  }
  double from = sure_bond_time_s(record, model, 1.645);
  if (const auto stood_s = shortest_stood_s(record))  // where all were too long, one shorter is worth a try
    from = std::min(from, std::max(0.85 * *stood_s, model.bond_time_s * std::exp(1.645 * usual_dose_spread)));
  from = std::max(from, model.valid_from_s / settings.reach);
  const double to = std::max(std::min(model.valid_to_s * settings.reach, slots_closing_s(model)), 1.2 * from);
  double step = step_of(from);
  while ((to - from) / step > 60) step *= 2;
  for (double t = stepped(from, step, up); t <= to; t = stepped(t + step, step, std::round)) {
    if (std::none_of(printed.begin(), printed.end(), [&](double other) { return too_near(t, other); }))
      add(t, first_read, false);
  }
  return list;
}

std::string names_of(const std::vector<Seen>& list) {
  return and_list(list, [](const Seen& one) { return name_of(one); });
}

const char* place_of(const CureModel& model, double t) {
  if (t < even_time_s(model) * 0.95) return "where thin walls begin to fail";
  if (t > even_time_s(model) * 1.05) return "where narrow slots begin to close";
  return "where walls and slots are lost alike";
}

// Flat slots that nobody has read yet bring a time of their own with them, only loosely tied to the fuse time.
CureModel with_flat_time(CureModel model) {
  if (model.flat_time_s) return model;
  spread_like_fuse_time(*model.log_covariance);
  const double prior_sd = FitPriors{}.flat_per_fuse_time.log_sd;
  (*model.log_covariance)[4][4] += prior_sd * prior_sd;
  model.flat_time_s = model.fuse_time_s;
  return model;
}

}  // namespace

double even_time_s(const CureModel& model) {
  return model.bond_time_s + model.fuse_time_s;
}

double even_time_log_sd(const CureModel& model) {
  const Vector5 even = slope(model, [](const CureModel& m) { return std::log(even_time_s(m)); });
  return std::sqrt(std::max(0.0, even.dot(covariance_of(model) * even)));
}

double sure_bond_time_s(const ResinRecord& record, const CureModel& model, double sigmas) {
  const double bond_log_sd = model.log_covariance ? std::sqrt(std::max(0.0, (*model.log_covariance)[0][0])) : 0;
  const double anywhere_s = model.bond_time_s * std::exp(sigmas * std::hypot(usual_dose_spread, bond_log_sd));
  const auto stood_s = shortest_stood_s(record);
  if (!stood_s) return anywhere_s;
  return std::min(anywhere_s, std::max(*stood_s, model.bond_time_s * std::exp(sigmas * usual_dose_spread)));
}

std::optional<TimeToUse> time_to_use(const ResinRecord& record) {
  if (record.use || !record.fit) return record.use;
  const auto is_missing = [](const BracketReading& one) { return one.look == Look::missing; };
  if (!shortest_stood_s(record) && std::any_of(record.bracket.begin(), record.bracket.end(), is_missing))
    return std::nullopt;
  constexpr double sure_sigmas = 3.0902;  // 0.1 %
  constexpr double most_s = 3600;         // as for any exposure
  const CureModel& model = *record.fit;
  const double even_s = even_time_s(model), step_s = step_of(even_s);
  const double sure_s = sure_bond_time_s(record, model, sure_sigmas);
  TimeToUse use;
  use.exposure_s = std::min(std::max(stepped(even_s, step_s, std::round), stepped(sure_s, step_s, up)), most_s);
  const double wall_mm = wall_limit_mm(model, use.exposure_s), slot_mm = slot_limit_mm(model, use.exposure_s);
  const double from_s = model.bond_time_s / wall_light(model, 1.25 * wall_mm);
  const double to_s = model.fuse_time_s / slot_light(model, 1.25 * slot_mm);
  use.from_s = stepped(std::max({from_s, sure_s, model.valid_from_s}), step_s / 5, up);
  use.to_s = stepped(std::min({to_s, model.valid_to_s, most_s}), step_s / 5, down);
  use.from_s = std::min(use.from_s, use.exposure_s);
  use.to_s = std::max(use.to_s, use.exposure_s);
  return use;
}

double even_size_mm(const CureModel& model) {
  return wall_limit_mm(model, even_time_s(model));
}

Window window(const CureModel& model, double size_mm) {
  Window result;
  result.size_mm = size_mm;
  result.from_s = std::exp(log_from(model, size_mm));
  result.to_s = std::exp(log_to(model, size_mm));
  if (model.log_covariance) {
    const Matrix5 covariance = covariance_of(model);
    const Vector5 from = slope(model, [&](const CureModel& m) { return log_from(m, size_mm); });
    const Vector5 to = slope(model, [&](const CureModel& m) { return log_to(m, size_mm); });
    result.from_log_sd = std::sqrt(std::max(0.0, from.dot(covariance * from)));
    result.to_log_sd = std::sqrt(std::max(0.0, to.dot(covariance * to)));
  }
  return result;
}

Result<std::vector<CurvePoint>> curve_table(const CureModel& model, double from_s, double to_s, std::uint32_t steps) {
  if (!(from_s > 0 && from_s < to_s && std::isfinite(to_s)) || steps < 1 || steps > 100000) {
    return tl::unexpected(Error{ErrorKind::usage, "",
                                fmt::format("a table from {} s to {} s in {} steps", from_s, to_s, steps),
                                "0 < from < to, and 1 to 100000 steps", "Correct the range."});
  }
  const auto where_any = [](double limit) {
    return std::isfinite(limit) ? std::optional<double>(limit) : std::nullopt;
  };
  std::vector<CurvePoint> table;
  for (std::uint32_t i = 0; i <= steps; ++i) {
    const double t = from_s + (to_s - from_s) * i / steps;
    table.push_back({t, where_any(wall_limit_mm(model, t)), where_any(slot_limit_mm(model, t)),
                     where_any(pin_limit_mm(model, t)), where_any(hole_limit_mm(model, t)),
                     where_any(flat_slot_limit_mm(model, t))});
  }
  return table;
}

// The record's model, if it knows how sure it is.
static Result<CureModel> sure_model(const ResinRecord& record) {
  auto fitted = fitted_model(record);
  if (!fitted || fitted->log_covariance) return fitted;
  return tl::unexpected(Error{ErrorKind::invalid, record.file, "the fit has no log_covariance",
                              "a fit made from readings, which knows how sure it is",
                              "Add readings and run `hairline record fit`; without readings, print at the middle and "
                              "both ends of the times you use."});
}

Result<std::vector<NextPrint>> next_prints(const ResinRecord& record, const NextPrintSettings& settings) {
  const auto fitted = sure_model(record);
  if (!fitted) return tl::unexpected(fitted.error());
  const CureModel model = with_flat_time(*fitted);
  const double size = even_size_mm(model);
  const Ends ends{slope(model, [&](const CureModel& m) { return log_from(m, size); }),
                  slope(model, [&](const CureModel& m) { return log_to(m, size); })};
  // The covariance may be singular by rounding: a floor far under any real spread keeps the inverse finite.
  Matrix5 known = (covariance_of(model) + 1e-10 * Matrix5::Identity()).inverse();
  const auto spread = [&](const Matrix5& information) {
    return std::sqrt(std::max(0.0, window_variance(ends, information.inverse())));
  };
  double before = spread(known);
  std::vector<NextPrint> planned;
  auto open = candidates(record, model, settings);
  for (const bool printed : {true, false}) {  // what is printed is read first
    std::uint32_t taken = 0;
    while (printed || taken < settings.times) {
      const Candidate* best = nullptr;
      double after = before;
      for (const Candidate& one : open) {
        if (one.printed != printed) continue;
        if (const double sd = spread(known + one.information); sd < after) after = sd, best = &one;
      }
      // Said in whole percent, so that is the least that counts.
      if (!best || after > before * (1 - settings.least_gain) || std::lround(100 * after) >= std::lround(100 * before))
        break;
      const double t = best->exposure_s;
      planned.push_back({t, printed ? names_of(best->seen) : "", before, after, printed ? "" : place_of(model, t)});
      known += best->information;
      before = after;
      ++taken;
      std::erase_if(open, [&](const Candidate& one) {
        return one.printed == printed && (printed ? one.exposure_s == t : too_near(one.exposure_s, t));
      });
    }
  }
  return planned;
}

std::vector<double> times_to_print(const ResinRecord& record) {
  std::vector<double> times;
  const auto next = weakness(record).empty() ? Result<std::vector<NextPrint>>() : next_prints(record);
  if (!next) return times;
  for (const NextPrint& one : *next)
    if (one.read.empty()) times.push_back(one.exposure_s);
  std::sort(times.begin(), times.end());
  return times;
}

}  // namespace hairline
