// What several prints say of a record (docs/calibration.md, What came out).
//
// The dose of a detail differs from the record's by three things, all normal in ln: what the record leaves open (one
// for all prints), the process (one for each print), and the rest of the detail's own spread. A detail's chance is what
// they give together; what was seen tells of the first. It is taken on a grid, for the sum of the first two decides
// how probable a print's outcomes are.
#include <algorithm>
#include <array>
#include <cmath>

#include "../base/normal.hpp"
#include "../base/numbers.hpp"
#include "hairline/fit.hpp"
#include "hairline/outcome.hpp"

namespace hairline {
namespace {

constexpr int half_steps = 80;
constexpr double step = 0.01;  // of ln(dose)
constexpr std::size_t steps = 2 * half_steps + 1;
using Grid = std::array<double, steps>;  // by ln(dose) from -0.8 to 0.8

double at(std::size_t i) {
  return step * (static_cast<double>(i) - half_steps);
}

bool tells_of_dose(const Prediction& one) {
  return one.seen && one.log_sd && *one.log_sd > 0;
}

double record_variance(const Prediction& one, const OutcomeSettings& settings) {
  const double process = settings.dose_spread;
  return std::max(0.0, *one.log_sd * *one.log_sd - process * process);
}

// Adds how probable what was seen of one detail is, at each dose of its print.
void add_detail(Grid& logs, const Prediction& one, double record_log_sd, const OutcomeSettings& settings) {
  const double shared = record_log_sd * record_log_sd + settings.dose_spread * settings.dose_spread;
  const double own = std::max(std::sqrt(std::max(0.0, *one.log_sd * *one.log_sd - shared)), settings.detail_log_sd);
  const double chance = std::clamp(one.chance, 1e-6, 1 - 1e-6);
  const double margin = normal_quantile(chance) * std::sqrt(shared + own * own);
  const double side = one.fate == Fate::vanish ? -1 : 1;
  for (std::size_t i = 0; i < steps; ++i) {
    const double lost = normal_cdf((margin + side * at(i)) / own);
    const double told = *one.seen ? lost : 1 - lost;
    logs[i] += std::log(settings.misread + (1 - 2 * settings.misread) * told);
  }
}

// The same with the print's own share of the dose summed over.
Grid over_process(const Grid& logs, double spread) {
  const int reach = static_cast<int>(std::ceil(3.5 * spread / step));
  const double most = *std::max_element(logs.begin(), logs.end());
  Grid told{}, out{};
  for (std::size_t i = 0; i < steps; ++i) told[i] = std::exp(logs[i] - most);
  double weights = 0;
  for (int k = -reach; k <= reach; ++k) {
    const double z = k * step / std::max(spread, step / 10), weight = std::exp(-z * z / 2);
    weights += weight;
    for (int i = 0; i < static_cast<int>(steps); ++i)
      out[static_cast<std::size_t>(i)] +=
          weight * told[static_cast<std::size_t>(std::clamp(i + k, 0, static_cast<int>(steps) - 1))];
  }
  for (double& value : out) value = most + std::log(std::max(value / weights, 1e-300));
  return out;
}

// Mean and 90 % range of a density on the grid, given by its logarithm.
DoseShift shift_of(const Grid& logs) {
  const double most = *std::max_element(logs.begin(), logs.end());
  Grid density{};
  double sum = 0, mean = 0;
  for (std::size_t i = 0; i < steps; ++i) sum += density[i] = std::exp(logs[i] - most);
  for (std::size_t i = 0; i < steps; ++i) mean += at(i) * density[i] / sum;
  const auto quantile = [&](double share) {  // between the middles of two steps
    double below = 0;
    for (std::size_t i = 0; i < steps; below += density[i++] / sum)
      if (below + density[i] / sum >= share) return at(i) + step * ((share - below) * sum / density[i] - 0.5);
    return at(steps - 1);
  };
  return {.log = six_digits(mean), .low = six_digits(quantile(0.05)), .high = six_digits(quantile(0.95))};
}

std::optional<DoseShift> dose_of(const std::vector<const Outcome*>& prints, const OutcomeSettings& settings) {
  double variance = 0, details = 0;
  for (const Outcome* print : prints)
    for (const Prediction& one : print->predictions)
      if (tells_of_dose(one)) variance += record_variance(one, settings), details += 1;
  if (details == 0) return std::nullopt;
  const double record_log_sd = std::max(std::sqrt(variance / details), settings.least_record_log_sd);
  Grid logs{};
  for (std::size_t i = 0; i < steps; ++i) logs[i] = -at(i) * at(i) / (2 * record_log_sd * record_log_sd);
  for (const Outcome* print : prints) {
    Grid one{};
    for (const Prediction& prediction : print->predictions)
      if (tells_of_dose(prediction)) add_detail(one, prediction, record_log_sd, settings);
    one = over_process(one, settings.dose_spread);
    for (std::size_t i = 0; i < steps; ++i) logs[i] += one[i];
  }
  DoseShift shift = shift_of(logs);
  shift.record_log_sd = six_digits(record_log_sd);
  return shift;
}

void add_to(Tally& tally, const Prediction& one, double& variance) {
  ++tally.looked_at;
  tally.seen += *one.seen ? 1 : 0;
  tally.expected += one.chance;
  variance += one.chance * (1 - one.chance);
}

void count(OutcomeSummary& summary, const std::vector<const Outcome*>& prints) {
  double will = 0, may = 0;
  for (const Outcome* print : prints) {
    ++summary.prints;
    summary.fine += print->fine ? 1 : 0;
    summary.came_off += print->came_off ? 1 : 0;
    summary.unforeseen += static_cast<std::uint32_t>(print->others.size());
    summary.unforeseen_prints += print->others.empty() ? 0 : 1;
    for (const Prediction& one : print->predictions)
      if (one.seen) one.state == State::will ? add_to(summary.will, one, will) : add_to(summary.may, one, may);
  }
  summary.will.spread = std::sqrt(will);
  summary.may.spread = std::sqrt(may);
}

NewCoupon new_coupon(const OutcomeSummary& summary, const OutcomeSettings& settings) {
  if (summary.dose && std::abs(summary.dose->log) > settings.sigmas * summary.dose->record_log_sd)
    return NewCoupon::dose;
  if (summary.unforeseen_prints >= settings.unforeseen_prints &&
      summary.unforeseen_prints >= settings.unforeseen_share * summary.prints)
    return NewCoupon::unforeseen;
  return summary.came_off >= settings.came_off_prints ? NewCoupon::came_off : NewCoupon::no;
}

// To the step at which times are set.
double set_time_s(double time_s) {
  const double every_s = time_s < 1 ? 0.01 : 0.05;
  return twelve_digits(std::round(time_s / every_s) * every_s);
}

bool of_record(const Outcome& outcome, const ResinRecord& record) {
  return std::filesystem::path(outcome.record.file).filename() == std::filesystem::path(record.file).filename();
}

}  // namespace

OutcomeSummary weigh_outcomes(const ResinRecord& record, const std::vector<Outcome>& outcomes,
                              const OutcomeSettings& settings) {
  OutcomeSummary summary;
  std::vector<const Outcome*> prints;
  for (const Outcome& outcome : outcomes) {
    if (!of_record(outcome, record)) continue;
    const double blur_mm = record.fit ? record.fit->blur_mm : 0;
    const bool present = std::abs(outcome.record.blur_mm - blur_mm) <= 1e-5 * blur_mm;
    present ? prints.push_back(&outcome) : void(++summary.earlier);
  }
  count(summary, prints);
  summary.dose = dose_of(prints, settings);
  summary.new_coupon = new_coupon(summary, settings);
  const auto use = time_to_use(record);
  const double stronger = summary.dose ? std::exp(summary.dose->log) : 1;
  if (use) summary.coupon_s = set_time_s(use->exposure_s / stronger);
  return summary;
}

}  // namespace hairline
