// Maximum a posteriori of (bond time, fuse time, blur, penetration depth) in logs, and a gel time where cure depths
// were measured; the covariance is the inverse Hessian (Laplace). docs/calibration.md states likelihood and priors.
#include "hairline/fit.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numeric>
#include <set>

#include "../base/fingerprint.hpp"
#include "observations.hpp"
#include "parameters.hpp"
#include "reading_fields.hpp"

namespace hairline {
namespace {

constexpr double sd_at_90 = 1.6448536269514722;  // normal quantile of 0.95
constexpr double tail_sigmas = 3;                // where the tails of a profile are looked at

struct Prior {
  double mean = 0, sd = 1;  // of a log
  double cost(double value) const {
    const double z = (value - mean) / sd;
    return z * z / 2;
  }
};

Prior in_logs(const LogPrior& prior, double unit = 1) {
  return {std::log(prior.median * unit), prior.log_sd};
}

// Everything the negative log posterior is made of.
struct Problem {
  std::vector<Observation> seen;
  const FitSettings& settings;
  CureModel frame;  // layer height, blur shape, and whether there is a flat time
  Prior bond, fuse_per_bond, blur, depth, flat_per_fuse, gel_per_bond;
  bool with_gel = false;  // the last log is that of the gel time
  // The shortest exposure at which a wall or pin was read: the bond time lies below. The search's first coordinate is
  // then not ln bond but ln(ln(ceiling / bond)), in which a posterior that is squeezed against the ceiling is nearly
  // normal. Infinity: there is none.
  double ceiling_s = INFINITY;

  double ln_bond(double x) const { return std::isinf(ceiling_s) ? x : std::log(ceiling_s) - std::exp(x); }
  double coordinate(double ln_bond) const {
    return std::isinf(ceiling_s) ? ln_bond : std::log(std::max(1e-9, std::log(ceiling_s) - ln_bond));
  }
  std::vector<double> logs_at(std::vector<double> x) const {
    x[0] = ln_bond(x[0]);
    return x;
  }
  CureModel model(const std::vector<double>& x) const {
    return with_logs(frame, {ln_bond(x[0]), x[1], x[2], x[3], frame.flat_time_s ? x[4] : 0});
  }
  double gel_time_s(const std::vector<double>& x) const { return with_gel ? std::exp(x.back()) : 1; }

  double prior_cost(const std::vector<double>& logs) const {
    double sum = bond.cost(logs[0]) + fuse_per_bond.cost(logs[1] - logs[0]) + blur.cost(logs[2]) + depth.cost(logs[3]);
    if (frame.flat_time_s) sum += flat_per_fuse.cost(logs[4] - logs[1]);
    if (with_gel) sum += gel_per_bond.cost(logs.back() - logs[0] + frame.layer_height_mm / std::exp(logs[3]));
    return sum;
  }

  double operator()(const std::vector<double>& x) const {
    // Far from anything real the exponentials overflow; a plain bowl leads back.
    const auto far = [](double one) { return !(std::abs(one) < 30); };
    const std::vector<double> logs = logs_at(x);
    if (std::any_of(x.begin(), x.end(), far) || far(logs[0])) return 1e12;
    const CureModel m = model(x);
    const double gel = gel_time_s(x);
    double sum = prior_cost(logs);
    for (const auto& o : seen) sum += cost(o, m, gel, settings);
    return sum;
  }
};

double geometric_mean_exposure(const std::vector<Observation>& seen) {
  double sum = 0;
  std::size_t count = 0;
  for (const bool depths : {false, true}) {  // cure depths only where there is no bracket
    for (const auto& o : seen) {
      if ((o.seen == Seen::cure_depth) == depths) sum += std::log(o.exposure_s), ++count;
    }
    if (count > 0) break;
  }
  return std::exp(sum / static_cast<double>(count));
}

Problem make_problem(const ResinRecord& record, const FitSettings& settings) {
  Problem problem{observations(record, settings), settings, {}, {}, {}, {}, {}, {}, {},
                  !record.cure_depth.empty(),     INFINITY};
  problem.frame.layer_height_mm = record.layer_height_mm;
  const auto is_flat = [](const Observation& o) { return o.seen == Seen::flat_slot; };
  if (std::any_of(problem.seen.begin(), problem.seen.end(), is_flat)) problem.frame.flat_time_s = 1;
  for (const Observation& o : problem.seen) {
    if (o.seen == Seen::wall || o.seen == Seen::pin) problem.ceiling_s = std::min(problem.ceiling_s, o.exposure_s);
  }
  const FitPriors& priors = settings.priors;
  problem.bond = in_logs(priors.bond_time_per_exposure, geometric_mean_exposure(problem.seen));
  problem.fuse_per_bond = in_logs(priors.fuse_time_per_bond_time);
  problem.blur =
      record.printer.pitch_mm ? in_logs(priors.blur_per_pitch, *record.printer.pitch_mm) : in_logs(priors.blur_mm);
  problem.depth = in_logs(priors.penetration_depth_mm);
  problem.flat_per_fuse = in_logs(priors.flat_per_fuse_time);
  problem.gel_per_bond = in_logs(priors.gel_per_bond_time);
  return problem;
}

std::vector<std::string> prior_sentences(const Problem& problem) {
  const auto sentence = [](const char* what, const Prior& prior, const char* unit) {
    return fmt::format("{}: {}{}, 90 % between {} and {}", what, number_text(std::exp(prior.mean)), unit,
                       number_text(std::exp(prior.mean - sd_at_90 * prior.sd)),
                       number_text(std::exp(prior.mean + sd_at_90 * prior.sd)));
  };
  std::vector<std::string> list{
      sentence("bond time", problem.bond, " s"), sentence("fuse time / bond time", problem.fuse_per_bond, ""),
      sentence("blur", problem.blur, " mm"), sentence("penetration depth", problem.depth, " mm")};
  if (problem.frame.flat_time_s) list.push_back(sentence("flat time / fuse time", problem.flat_per_fuse, ""));
  if (problem.with_gel) {
    list.push_back(sentence("gel time / (bond time x light through one layer)", problem.gel_per_bond, ""));
  }
  return list;
}

// Starts, the likeliest first; the others are tried where a search gets stuck. Bond time under the shortest exposure at
// which a wall was seen to stand, and some blurs.
std::vector<std::vector<double>> starts(const Problem& problem) {
  double shortest_wall = std::exp(problem.bond.mean), shortest_slot = 1e9, shortest_flat = 1e9;
  for (const auto& o : problem.seen) {
    if (o.seen == Seen::wall || o.seen == Seen::pin) shortest_wall = std::min(shortest_wall, 0.85 * o.exposure_s);
    if (o.seen == Seen::slot || o.seen == Seen::hole || by_caliper(o.seen))
      shortest_slot = std::min(shortest_slot, 0.85 * o.exposure_s);
    if (o.seen == Seen::flat_slot) shortest_flat = std::min(shortest_flat, 0.85 * o.exposure_s);
  }
  std::vector<std::vector<double>> list;
  for (const double blur : {1.0, 0.4, 2.5}) {
    const double bond = std::log(shortest_wall),
                 fuse = std::min(bond + problem.fuse_per_bond.mean, std::log(shortest_slot));
    std::vector<double> start{problem.coordinate(bond), fuse, problem.blur.mean + std::log(blur), problem.depth.mean};
    if (problem.frame.flat_time_s) start.push_back(std::min(fuse, std::log(shortest_flat)));
    if (problem.with_gel) {
      start.push_back(bond - problem.frame.layer_height_mm / std::exp(problem.depth.mean) + problem.gel_per_bond.mean);
    }
    list.push_back(start);
  }
  return list;
}

Minimum solve(Problem& problem, BlurShape shape) {
  problem.frame.blur_shape = shape;
  Minimum best;
  best.value = 1e300;
  std::uint32_t evaluations = 0;
  for (const auto& start : starts(problem)) {
    Minimum found = minimise(std::cref(problem), start, 0.2);
    evaluations += found.evaluations;
    if (found.converged || found.value < best.value) best = std::move(found);
    if (best.converged) break;
  }
  best.evaluations = evaluations;
  return best;
}

Estimate estimate(const char* name, double log_value, double variance, double undetermined_sd) {
  Estimate e;
  e.name = name;
  e.log_sd = six_digits(std::sqrt(std::max(0.0, variance)));
  e.value = six_digits(std::exp(log_value));
  e.low = six_digits(std::exp(log_value - sd_at_90 * e.log_sd));
  e.high = six_digits(std::exp(log_value + sd_at_90 * e.log_sd));
  e.determined = e.log_sd < undetermined_sd;
  return e;
}

bool underlit(Look look) {
  return look < Look::crisp;
}

// A bracket that was only looked at says which printed time was best, no more: its range ends half-way (in log time) to
// the nearest times on either side that were not crisp.
void look_only_range(const ResinRecord& record, CureModel& model) {
  double low = 0, high = 1e300, crisp_low = 1e300, crisp_high = 0;
  for (const auto& reading : record.bracket) {
    if (!reading.look) continue;
    const double t = reading.exposure_s;
    if (*reading.look == Look::crisp) {
      crisp_low = std::min(crisp_low, t), crisp_high = std::max(crisp_high, t);
    } else if (underlit(*reading.look)) {
      low = std::max(low, t);
    } else {
      high = std::min(high, t);
    }
  }
  constexpr double reach = 1.1;  // where one side was never printed
  if (crisp_high > 0) {
    model.valid_from_s = low > 0 && low < crisp_low ? std::sqrt(low * crisp_low) : crisp_low / reach;
    model.valid_to_s = high < 1e300 && high > crisp_high ? std::sqrt(high * crisp_high) : crisp_high * reach;
  } else {
    if (low == 0) low = high / (reach * reach);
    if (high == 1e300) high = low * reach * reach;
    model.valid_from_s = std::min(low, high) / (low < high ? 1 : reach);
    model.valid_to_s = std::max(low, high) * (low < high ? 1 : reach);
  }
}

constexpr double range_reach = 1.1;  // a size read at t says something about times 10 % off

// `seen`: what was fitted.
void set_valid_range(const ResinRecord& record, const std::vector<Observation>& seen, CureModel& model) {
  double from = 1e300, to = 0;
  for (const Observation& one : seen) {
    if (one.seen == Seen::look || one.seen == Seen::cure_depth) continue;
    from = std::min(from, one.exposure_s), to = std::max(to, one.exposure_s);
  }
  if (to > 0) {
    model.valid_from_s = from / range_reach, model.valid_to_s = to * range_reach;
  } else if (std::any_of(record.bracket.begin(), record.bracket.end(), [](const auto& one) { return one.look; })) {
    look_only_range(record, model);
  } else {  // cure depths alone: the assumed range of a hand-written fit
    model.valid_from_s = assumed_valid_range.from * model.bond_time_s;
    model.valid_to_s = assumed_valid_range.to * model.bond_time_s;
  }
  model.valid_from_s = six_digits(model.valid_from_s);
  model.valid_to_s = std::min(six_digits(model.valid_to_s), table::coupon_exposure.range.high);
}

std::vector<Residual> residuals_of(const std::vector<Observation>& seen, const CureModel& model, double gel_time_s,
                                   const FitSettings& settings) {
  std::vector<Residual> list;
  for (const auto& o : seen) {
    Residual r;
    r.what = name_of(o);
    if (o.seen == Seen::look) r.what += " (" + to_string(o.look) + ")";
    r.exposure_s = o.exposure_s;
    r.step = o.step;
    r.sigmas = six_digits(sigmas(o, model, gel_time_s, settings));
    if (o.seen != Seen::look) {
      r.read_mm = o.read_mm;
      const double predicted = *predicted_mm(o, model, gel_time_s);
      if (std::isfinite(predicted)) r.predicted_mm = six_digits(predicted);
    }
    list.push_back(std::move(r));
  }
  return list;
}

std::optional<std::size_t> worst_of(const std::vector<Residual>& list) {
  std::optional<std::size_t> worst;
  for (std::size_t i = 0; i < list.size(); ++i) {
    if (!worst || std::abs(list[i].sigmas) > std::abs(list[*worst].sigmas)) worst = i;
  }
  return worst;
}

std::optional<Error> problem_in(const ResinRecord& record) {
  const auto named = [&](std::optional<Error> problem, const char* kind, std::size_t index) {
    if (problem) {
      problem->file = record.file;
      problem->found = fmt::format("readings.{}[{}]: {}", kind, index + 1, problem->found);
    }
    return problem;
  };
  for (std::size_t i = 0; i < record.bracket.size(); ++i) {
    const auto& reading = record.bracket[i];
    if (!has_sizes(reading) && !has_widths(reading) && !reading.look)
      continue;  // an exposure that was printed but not yet read
    if (auto problem = named(problem_of(reading), "bracket", i)) return problem;
  }
  for (std::size_t i = 0; i < record.cure_depth.size(); ++i) {
    if (auto problem = named(problem_of(record.cure_depth[i]), "cure_depth", i)) return problem;
  }
  return std::nullopt;
}

constexpr double rise_at(double sigmas) {
  return sigmas * sigmas / 2;
}

// How far the logs reach below and above the optimum at a rise of the profile.
std::vector<ProfileRange> log_ranges(const Problem& problem, const Minimum& minimum, double sigmas) {
  auto ranges = profile_ranges(std::cref(problem), minimum, rise_at(sigmas));
  if (std::isinf(problem.ceiling_s)) return ranges;
  const double x = minimum.at[0], at = problem.ln_bond(x);
  ranges[0] = {at - problem.ln_bond(x + ranges[0].above), problem.ln_bond(x - ranges[0].below) - at};
  return ranges;
}

// What the search found, in logs.
struct Posterior {
  std::vector<double> at;
  std::vector<std::vector<double>> covariance;
  std::vector<ProfileRange> ranges;  // 90 %
};

// The Hessian sees the top of the likelihood only. Where the profile falls off slower on a side (the bond time has a
// wall above it and a long slope below), its spread is too small. Each parameter's is scaled to the root mean square of
// both sides at 90 %, or to the longer side three standard deviations out where that is more.
Posterior posterior_of(const Problem& problem, const Minimum& minimum) {
  Posterior posterior{problem.logs_at(minimum.at), minimum.covariance, log_ranges(problem, minimum, sd_at_90)};
  const auto tails = log_ranges(problem, minimum, tail_sigmas);
  std::vector<double> factor;
  for (std::size_t i = 0; i < posterior.at.size(); ++i) {
    const auto [below, above] = posterior.ranges[i];
    const double sd = std::sqrt(minimum.covariance[i][i]);
    const double sides = std::sqrt((below * below + above * above) / 2) / sd_at_90;
    const double spread = std::max(sides, std::max(tails[i].below, tails[i].above) / tail_sigmas);
    const bool turned = i == 0 && std::isfinite(problem.ceiling_s);  // the first coordinate falls with ln bond
    factor.push_back(turned ? -spread / sd : std::max(1.0, spread / sd));
  }
  for (std::size_t i = 0; i < factor.size(); ++i) {
    for (std::size_t k = 0; k < factor.size(); ++k) posterior.covariance[i][k] *= factor[i] * factor[k];
  }
  return posterior;
}

// --- readings that do not agree with the others

// The residual of a reading from a fit without it, in standard deviations, as the slopes at the optimum have it.
double deleted_sigmas(const Problem& problem, const Minimum& minimum, std::size_t index) {
  const auto at = [&](const std::vector<double>& x) {
    return sigmas(problem.seen[index], problem.model(x), problem.gel_time_s(x), problem.settings);
  };
  const std::size_t n = minimum.at.size();
  std::vector<double> slope(n);
  for (std::size_t i = 0; i < n; ++i) {
    std::vector<double> up = minimum.at, down = minimum.at;
    const double h = 0.05 * std::sqrt(minimum.covariance[i][i]);
    up[i] += h, down[i] -= h;
    slope[i] = (at(up) - at(down)) / (2 * h);
  }
  double leverage = 0;  // the share of the reading's spread that the fit takes up by following it
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t k = 0; k < n; ++k) leverage += slope[i] * minimum.covariance[i][k] * slope[k];
  }
  return std::abs(at(minimum.at)) / std::sqrt(std::max(0.01, 1 - leverage));
}

// ln of how many times likelier the readings are where one of them may be wrong: the mass of the posterior with that
// reading's error widened, over the mass as it is.
double gain_by_doubt(const Problem& problem, const Minimum& minimum, std::size_t index) {
  Problem doubting = problem;
  Observation& o = doubting.seen[index];
  constexpr double step_per_sd = 2.5066282746310002;  // sqrt(2 pi): of the normal whose top is as likely as the step
  const double sd_mm = o.step ? (o.read_mm - o.low_mm) / step_per_sd : o.sd_mm;
  o.sd_mm = std::hypot(sd_mm, problem.settings.wrong_by_mm);
  o.step = false;
  const Minimum doubted = minimise(std::cref(doubting), minimum.at, 0.1);
  if (doubted.covariance.empty()) return -INFINITY;
  // With a ceiling d ln bond = -exp(x) dx.
  const double stretched = std::isinf(problem.ceiling_s) ? 0 : doubted.at[0] - minimum.at[0];
  return doubted.log_mass + stretched - minimum.log_mass - std::log(o.sd_mm / sd_mm);
}

struct Odd {
  std::size_t index = 0;  // in Problem::seen
  double over = 0;        // gain by doubt beyond the least for which a reading is named
};

// The reading that agrees least with the others, where doubting it explains enough. Only the few that look worst are
// tried in earnest.
std::optional<Odd> odd_one(const Problem& problem, const Minimum& minimum) {
  constexpr std::size_t most_tried = 4;
  std::vector<std::pair<double, std::size_t>> list;
  for (std::size_t i = 0; i < problem.seen.size(); ++i) {
    if (problem.seen[i].seen != Seen::look) list.emplace_back(deleted_sigmas(problem, minimum, i), i);
  }
  const double least = std::log(problem.settings.odd_gain * static_cast<double>(list.size()));
  std::erase_if(list, [](const auto& one) { return one.first < 2; });
  std::sort(list.rbegin(), list.rend());
  list.resize(std::min(most_tried, list.size()));
  Odd odd;
  for (const auto& [off, i] : list) {
    const double over = gain_by_doubt(problem, minimum, i) - least;
    if (over > odd.over) odd = {i, over};
  }
  return odd.over > 0 ? std::optional(odd) : std::nullopt;
}

// Takes out the reading that does not agree, again and again, at most one in five; the minimum follows. Returns their
// places in what `problem` saw at first, the worst first.
std::vector<std::size_t> leave_out_odd(Problem& problem, Minimum& minimum) {
  std::vector<std::size_t> places(problem.seen.size()), odd;
  std::iota(places.begin(), places.end(), std::size_t{0});
  while (5 * (odd.size() + 1) <= places.size() + odd.size()) {
    const auto found = odd_one(problem, minimum);
    if (!found) break;
    const auto at = static_cast<std::ptrdiff_t>(found->index);
    Problem rest = problem;
    rest.seen.erase(rest.seen.begin() + at);
    Minimum found_without = minimise(std::cref(rest), minimum.at, 0.1);
    if (found_without.covariance.empty()) break;
    odd.push_back(places[found->index]);
    places.erase(places.begin() + at);
    problem.seen = std::move(rest.seen);
    minimum = std::move(found_without);
  }
  return odd;
}

// Chooses the shape: lorentzian has to earn its place (docs/calibration.md).
Minimum solve_shape(Problem& problem, std::uint32_t sizes, FitReport& report) {
  const FitSettings& settings = problem.settings;
  if (settings.blur_shape) return solve(problem, *settings.blur_shape);
  Minimum gaussian = solve(problem, BlurShape::gaussian);
  if (sizes < settings.shape_from_sizes) return gaussian;
  Problem other = problem;
  Minimum lorentzian = solve(other, BlurShape::lorentzian);
  report.lorentzian_gain = six_digits(gaussian.value - lorentzian.value);
  gaussian.evaluations = lorentzian.evaluations += gaussian.evaluations;
  if (!lorentzian.converged || *report.lorentzian_gain <= settings.shape_margin) return gaussian;
  // One wrong reading may look like another shape.
  const auto odd = gaussian.converged ? odd_one(problem, gaussian) : std::nullopt;
  if (odd && *report.lorentzian_gain <= settings.shape_margin + odd->over) return gaussian;
  problem.frame.blur_shape = BlurShape::lorentzian;
  return lorentzian;
}

void count(const std::vector<Observation>& seen, FitReport& report) {
  for (const auto& o : seen) {
    if (o.seen == Seen::look) {
      ++report.look_count;
    } else if (o.seen == Seen::cure_depth) {
      ++report.cure_depth_count;
    } else {
      ++report.size_count;
    }
  }
}

Estimate with_range(Estimate e, const ProfileRange& range) {
  e.low = six_digits(e.value * std::exp(-range.below));
  e.high = six_digits(e.value * std::exp(range.above));
  return e;
}

void fill(FitReport& report, const Problem& problem, const Minimum& minimum) {
  const Posterior posterior = posterior_of(problem, minimum);
  report.model = rounded(problem.model(minimum.at));
  report.converged = minimum.converged;
  report.stopped = minimum.stopped;
  report.evaluations = minimum.evaluations;

  const std::size_t count = parameter_count(report.model), gel = count;
  LogCovariance covariance{};
  for (std::size_t i = 0; i < count; ++i) {
    for (std::size_t k = 0; k < count; ++k) covariance[i][k] = six_digits(posterior.covariance[i][k]);
  }
  report.model.log_covariance = covariance;
  const double fuse_prior_sd = std::hypot(problem.bond.sd, problem.fuse_per_bond.sd);
  const std::array<double, 5> prior_sd{problem.bond.sd, fuse_prior_sd, problem.blur.sd, problem.depth.sd,
                                       std::hypot(fuse_prior_sd, problem.flat_per_fuse.sd)};
  const auto estimated = [&](const char* name, std::size_t i, double prior) {
    const double most = std::min(problem.settings.undetermined_ratio * prior, problem.settings.undetermined_log_sd);
    return with_range(estimate(name, posterior.at[i], posterior.covariance[i][i], most), posterior.ranges[i]);
  };
  for (std::size_t i = 0; i < count; ++i) {
    report.parameters.push_back(estimated(parameter_names[i], i, prior_sd[i]));
    if (!report.parameters[i].determined) report.undetermined.emplace_back(parameter_names[i]);
  }
  if (problem.with_gel) report.gel_time = estimated("gel_time_s", gel, problem.gel_per_bond.sd);
}

// Readings may agree on a fit that no record can hold.
Error out_of_range(Error refused) {
  refused.found = "the fit comes out of range: " + refused.found;
  refused.advice = "Read the coupons again, and print others at times nearer to those you use.";
  return refused;
}

}  // namespace

Result<FitReport> fit_record(const ResinRecord& record, const FitSettings& settings) {
  if (auto problem = problem_in(record)) return tl::unexpected(*problem);
  if (auto contradiction = find_contradiction(record, settings)) return tl::unexpected(*contradiction);
  Problem problem = make_problem(record, settings);
  if (problem.seen.empty()) {
    return tl::unexpected(Error{ErrorKind::invalid, record.file, "the record holds no reading to fit",
                                "at least one size, look or cure depth",
                                "Print coupons at a few times and add what you read with `hairline record read`."});
  }
  FitReport report;
  count(problem.seen, report);
  Minimum minimum = solve_shape(problem, report.size_count, report);
  if (minimum.covariance.size() != minimum.at.size()) {
    return tl::unexpected(
        Error{ErrorKind::invalid, record.file, "the fit found no certain optimum (" + minimum.stopped + ")",
              "readings that agree with each other", "Read the coupons again, above all those at the shortest time."});
  }
  const std::vector<Observation> all = problem.seen;
  const Minimum of_all = minimum;
  report.odd = leave_out_odd(problem, minimum);
  report.left_out = settings.leave_out_odd && !report.odd.empty();
  if (!report.left_out) problem.seen = all, minimum = of_all;
  fill(report, problem, minimum);
  set_valid_range(record, problem.seen, report.model);
  report.residuals = residuals_of(all, report.model, problem.gel_time_s(minimum.at), settings);
  report.worst = worst_of(report.residuals);
  report.priors = prior_sentences(problem);
  ResinRecord fitted = record;
  fitted.fit = report.model;
  fitted.use.reset();
  report.use = time_to_use(fitted);
  apply_fit(fitted, report, record.fitted_at);
  report.weakness = weakness(fitted, settings);
  report.weak = !report.weakness.empty();
  if (const auto again = parse_record(write_record(fitted), record.file); !again)
    return tl::unexpected(out_of_range(again.error()));
  return report;
}

// What tells the readings a fit is made of from others.
static std::string key_of_readings(const ResinRecord& record) {
  std::string text;
  for (const BracketReading& reading : record.bracket) text += entry_text(reading) + '\n';
  for (const CureDepthReading& reading : record.cure_depth) text += entry_text(reading) + '\n';
  return fingerprint(text);
}

void apply_fit(ResinRecord& record, const FitReport& report, const std::string& today) {
  record.fit = report.model;
  record.use = report.use;
  record.valid_range_assumed = false;
  record.fitted_at = today;
  record.method = "maximum a posteriori in logs, covariance from the Hessian";
  auto document = object_in(record.source);
  auto& fit = document["fit"];
  if (!fit.is_object()) fit = nlohmann::ordered_json::object();
  fit["gel_time_s"] = report.gel_time ? nlohmann::ordered_json(report.gel_time->value) : nlohmann::ordered_json();
  fit["undetermined"] = report.undetermined;
  fit["weak"] = report.weakness;
  fit["of_readings"] = key_of_readings(record);
  auto& ranges = fit["ranges"] = nlohmann::ordered_json::object();
  for (const Estimate& e : report.parameters) ranges[e.name] = {e.low, e.high};
  for (const char* list : {"odd", "left_out"}) fit[list] = nlohmann::ordered_json::array();
  auto& odd = fit[report.left_out ? "left_out" : "odd"];
  for (const std::size_t i : report.odd) odd.push_back(report.residuals[i].what);
  record.source = json_text(document);
}

// What the fit wrote of its own into the record; null where it wrote none.
static nlohmann::ordered_json of_fit(const ResinRecord& record, const char* key) {
  const auto document = object_in(record.source);
  const auto fit = document.find("fit");
  return fit != document.end() && fit->is_object() ? fit->value(key, nlohmann::ordered_json()) : nullptr;
}

FitAge fit_age(const ResinRecord& record) {
  const auto key = of_fit(record, "of_readings");
  if (!key.is_string()) return FitAge::unknown;
  return key == key_of_readings(record) ? FitAge::of_these_readings : FitAge::of_other_readings;
}

std::vector<Estimate> estimates(const ResinRecord& record) {
  std::vector<Estimate> list;
  if (!record.fit) return list;
  const CureModel& model = *record.fit;
  const Logs logs = logs_of(model);
  const auto ranges = of_fit(record, "ranges");
  for (std::size_t i = 0; i < parameter_count(model); ++i) {
    const double variance = model.log_covariance ? (*model.log_covariance)[i][i] : 0;
    Estimate e = estimate(parameter_names[i], logs[i], variance, FitSettings{}.undetermined_log_sd);
    const auto range = ranges.is_object() ? ranges.value(e.name, nlohmann::ordered_json()) : nullptr;
    if (range.is_array() && range.size() == 2 && range[0].is_number() && range[1].is_number() && range[0] <= e.value &&
        e.value <= range[1])
      e.low = range[0], e.high = range[1];
    list.push_back(std::move(e));
  }
  return list;
}

std::vector<std::string> odd_readings(const ResinRecord& record) {
  std::vector<std::string> names;
  for (const auto& name : of_fit(record, "odd"))
    if (name.is_string()) names.push_back(name);
  return names;
}

std::vector<Residual> residuals(const ResinRecord& record, const CureModel& model, const FitSettings& settings) {
  // The gel time that suits the cure depths best under this Dp: the mean of ln t - depth / Dp.
  double sum = 0;
  for (const auto& reading : record.cure_depth) {
    sum += std::log(reading.exposure_s) - reading.depth_mm / model.penetration_depth_mm;
  }
  const double gel = record.cure_depth.empty() ? 1 : std::exp(sum / static_cast<double>(record.cure_depth.size()));
  return residuals_of(observations(record, settings), model, gel, settings);
}

namespace {

// Readings that walls and slots rest on.
struct SizesRead {
  std::size_t walls = 0, slots = 0, looks = 0;
  std::set<double> exposures_s;
};

SizesRead sizes_read(const ResinRecord& record) {
  SizesRead read;
  for (const auto& reading : record.bracket) {
    if (!has_sizes(reading)) {
      read.looks += reading.look ? 1 : 0;
      continue;
    }
    read.walls += reading.thinnest_wall_mm || reading.thinnest_pin_mm ? 1 : 0;
    read.slots += reading.narrowest_slot_mm || reading.smallest_hole_mm ? 1 : 0;
    read.exposures_s.insert(reading.exposure_s);
  }
  return read;
}

// Why too little was read to tell blur from exposure; "" where it was enough, or nothing is said of it.
std::string few_readings_text(const ResinRecord& record, const SizesRead& read) {
  if (!read.exposures_s.empty()) {
    if (read.walls >= 2 && read.slots >= 2 && read.exposures_s.size() >= 2) return "";
    return fmt::format(
        "This record is weak: it holds {} reading{} of walls or pins and {} of slots or holes, and needs two of each "
        "at different times to tell blur from exposure. `hairline record plan` names what to read or print.",
        read.walls, read.walls == 1 ? "" : "s", read.slots);
  }
  if (read.looks > 0)
    return fmt::format(
        "This record is weak: it rests on the look of {} coupon{} alone, no size was read; it knows about which time "
        "is even, but blur, fuse time and penetration depth are guesses. Read walls and slots on the same coupons and "
        "fit again.",
        read.looks, read.looks == 1 ? "" : "s");
  if (!record.cure_depth.empty())
    return "This record is weak: it rests on cure depths alone, so what happens to thin walls and narrow slots is a "
           "guess. Print and read coupons at a few times.";
  return "";
}

std::string odd_text(const std::vector<std::string>& odd) {
  const auto time_of = [](const std::string& name) { return name.substr(std::min(name.rfind(" at "), name.size())); };
  const auto at_first = [&](const std::string& name) { return time_of(name) == time_of(odd.front()); };
  if (odd.size() > 1 && std::all_of(odd.begin(), odd.end(), at_first))
    return fmt::format(
        "This record is weak: {} readings{} do not agree with the others. Is that time right? Take them "
        "out with `hairline record read --take-back`, or read them again.",
        odd.size(), time_of(odd.front()));
  return fmt::format("This record is weak: {} not agree with the others. Read {} again.",
                     odd.size() == 1 ? "the " + odd.front() + " does" : fmt::format("{} readings do", odd.size()),
                     odd.size() == 1 ? "it" : "them");
}

}  // namespace

std::string weakness(const ResinRecord& record, const FitSettings& settings) {
  if (!record.fit || !record.fit->log_covariance) return "";
  if (fit_age(record) == FitAge::of_other_readings)
    return "This record is weak: its readings changed after its fit. `hairline record fit` brings it up to date.";
  const SizesRead read = sizes_read(record);
  if (std::string few = few_readings_text(record, read); !few.empty()) return few;
  const bool own = read.exposures_s.empty();  // a hand-written fit with a covariance of its own
  const CureModel& model = *record.fit;
  constexpr double most_blur_mm = 0.25;  // light that spreads so far draws no letter (common practice, no source)
  if (!own && model.blur_mm > most_blur_mm)
    return fmt::format(
        "This record is weak: by its readings light spreads {:.2f} mm, which no printer does. Look where "
        "the decimal point of the sizes is, and read them again.",
        model.blur_mm);
  if (const auto odd = odd_readings(record); !own && !odd.empty()) return odd_text(odd);
  const Window w = window(model, even_size_mm(model));
  const double spread = std::sqrt((w.from_log_sd * w.from_log_sd + w.to_log_sd * w.to_log_sd) / 2);
  if (spread > settings.weak_window_log_sd)
    return own ? fmt::format("This record is weak: its own covariance leaves the window uncertain by {:.0f} %.",
                             100 * spread)
               : fmt::format(
                     "This record is weak: the first and last good time are uncertain by {:.0f} %. "
                     "`hairline record plan` names what to read or print.",
                     100 * spread);
  return "";
}

}  // namespace hairline
