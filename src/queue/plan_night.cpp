// The plan of a night: each job in the order of the queue goes to the printer on which it ends first, behind what is
// printed there of the same resin (docs/queue.md, The plan).
#include <algorithm>
#include <cmath>
#include <utility>

#include "hairline/night.hpp"
#include "printer_fit.hpp"

namespace hairline {
namespace {

constexpr double tolerance = 1e-6;  // of times and ml

// Prints of one resin, one after the other.
struct ResinGroup {
  std::string resin;  // empty: not known, only where no print's on this printer is
  std::vector<PlannedPrint> prints;
  double length_s = 0;  // with a changeover behind each print
};

// What one printer prints.
struct Lane {
  std::vector<ResinGroup> groups;
  std::size_t last = 0;  // the group that got the last print
  double used_ml = 0;

  // The group in which a print of this resin belongs; groups.size(): a new one.
  std::size_t group_of(const std::string& resin) const {
    if (groups.empty()) return 0;
    if (resin.empty()) return last;
    const auto same = [&](const ResinGroup& group) { return group.resin == resin || group.resin.empty(); };
    return static_cast<std::size_t>(std::find_if(groups.begin(), groups.end(), same) - groups.begin());
  }

  // When a print would end that is added now.
  double end_of(const QueueRow& row) const {
    const std::size_t group = group_of(row.record.resin);
    double end_s = row.duration_s;
    for (std::size_t i = 0; i <= group && i < groups.size(); ++i) end_s += groups[i].length_s;
    return end_s;
  }

  void add(const PlannedPrint& print, const QueueRow& row, double changeover_s) {
    last = group_of(row.record.resin);
    if (last == groups.size()) groups.push_back({});
    ResinGroup& group = groups[last];
    if (group.resin.empty()) group.resin = row.record.resin;
    group.prints.push_back(print);
    group.length_s += row.duration_s + changeover_s;
    used_ml += row.resin_ml;
  }
};

// What keeps a row from a printer, whatever else is printed there.
std::optional<queue::Misfit> obstacle(const QueueRow& row, const QueuePrinter& printer) {
  if (const auto found = queue::misfit({row.pitch, row.size_mm, row.record.pitch_mm}, printer)) return found;
  if (row.verdict == Verdict::hold) return queue::Misfit{.why = LeftOut::hold};
  return std::nullopt;
}

// Keeps of two reasons the one that is nearer to a print: looked for later, or lacking less.
void keep_nearer(std::optional<NotPlanned>& kept, const NotPlanned& other) {
  const auto lacking = [](const NotPlanned& left) { return std::abs(left.needed - left.available); };
  if (!kept || other.why > kept->why || (other.why == kept->why && lacking(other) < lacking(*kept))) kept = other;
}

// A row of a job, on one of its printers.
struct Option {
  std::uint32_t row, printer;
};

struct Night {
  const std::vector<QueuePrinter>& printers;
  const std::vector<QueueEntry>& entries;
  std::vector<Lane> lanes;
  NightPlan plan;

  const QueueRow& row_of(const PlannedPrint& print) const { return entries[print.job].rows[print.row]; }
};

// Where a job can be printed, by printer; of the others the nearest is kept.
std::vector<Option> options_of(const Night& night, std::uint32_t job, std::optional<NotPlanned>& nearest) {
  std::vector<Option> options;
  const std::vector<QueueRow>& rows = night.entries[job].rows;
  for (std::uint32_t i = 0; i < rows.size(); ++i) {
    if (rows[i].error) {
      keep_nearer(nearest, {.job = job, .row = i, .why = LeftOut::not_checked});
      continue;
    }
    for (const std::uint32_t printer : rows[i].printers)
      if (const auto found = obstacle(rows[i], night.printers[printer]))
        keep_nearer(nearest, {job, i, 1, found->why, printer, found->needed, found->available});
      else
        options.push_back({i, printer});
  }
  std::sort(options.begin(), options.end(), [](Option a, Option b) { return a.printer < b.printer; });
  return options;
}

// The option with which the next copy ends first.
const Option* first_to_end(const Night& night, std::uint32_t job, const std::vector<Option>& options,
                           std::optional<NotPlanned>& nearest) {
  const Option* best = nullptr;
  double best_s = 0;
  for (const Option& option : options) {
    const QueueRow& row = night.entries[job].rows[option.row];
    const Lane& lane = night.lanes[option.printer];
    if (const auto resin_ml = night.printers[option.printer].resin_ml) {
      const double left_ml = std::max(0.0, *resin_ml - lane.used_ml);
      if (row.resin_ml > left_ml + tolerance) {
        keep_nearer(nearest, {job, option.row, 1, LeftOut::no_resin, option.printer, row.resin_ml, left_ml});
        continue;
      }
    }
    const double end_s = lane.end_of(row);
    if (best && end_s >= best_s - tolerance) continue;
    best = &option;
    best_s = end_s;
  }
  return best;
}

void place(Night& night, std::uint32_t job) {
  const QueueEntry& entry = night.entries[job];
  std::optional<NotPlanned> nearest;
  const std::vector<Option> options = options_of(night, job, nearest);
  for (std::uint32_t copy = 1; copy <= entry.job.copies; ++copy) {
    const Option* option = first_to_end(night, job, options, nearest);
    if (!option) {
      NotPlanned left = nearest.value_or(NotPlanned{.job = job, .why = LeftOut::no_such_printer});
      left.copies = entry.job.copies - copy + 1;
      night.plan.not_planned.push_back(left);
      return;
    }
    PlannedPrint print{.job = job, .copy = copy, .row = option->row, .printer = option->printer};
    night.lanes[option->printer].add(print, entry.rows[option->row],
                                     night.printers[option->printer].changeover_min * 60);
  }
}

// Start and end of each print of a printer, and what of its resin is left.
void set_times(Night& night, std::uint32_t number) {
  const QueuePrinter& printer = night.printers[number];
  double next_s = 0;
  std::optional<double> left_ml = printer.resin_ml;
  for (std::size_t i = 0; i < night.lanes[number].groups.size(); ++i) {
    bool change = i > 0;
    for (PlannedPrint print : night.lanes[number].groups[i].prints) {
      const QueueRow& row = night.row_of(print);
      print.start_s = next_s;
      print.end_s = next_s + row.duration_s;
      next_s = print.end_s + printer.changeover_min * 60;
      if (left_ml) print.resin_left_ml = left_ml = std::max(0.0, *left_ml - row.resin_ml);
      print.over_vat = printer.vat_ml && row.resin_ml > *printer.vat_ml + tolerance;
      print.resin_change = std::exchange(change, false);
      night.plan.duration_s = std::max(night.plan.duration_s, print.end_s);
      night.plan.prints.push_back(print);
    }
  }
}

Result<void> hold_against(const QueueTimes& times, NightPlan& plan) {
  std::optional<Instant> moments[2];
  for (std::size_t i = 0; i < 2; ++i) {
    const auto& time = i == 0 ? times.start : times.ready_by;
    if (!time) continue;
    const auto moment = instant_of(*time, times.zone);
    if (!moment) return tl::unexpected(moment.error());
    moments[i] = *moment;
  }
  const auto& [start, ready_by] = moments;
  if (!ready_by) return {};
  const auto minutes = static_cast<std::int64_t>(std::ceil((plan.duration_s - tolerance) / 60));
  plan.latest_start = local_of(*ready_by - std::chrono::minutes(minutes), times.zone).value();
  if (!start) return {};
  plan.allowed_s = static_cast<double>((*ready_by - *start).count());
  for (PlannedPrint& print : plan.prints) print.late = print.end_s > *plan.allowed_s + tolerance;
  return {};
}

}  // namespace

Result<NightPlan> plan_night(const QueueTimes& times, const std::vector<QueuePrinter>& printers,
                             const std::vector<QueueEntry>& entries) {
  Night night{printers, entries, std::vector<Lane>(printers.size()), {}};
  for (std::uint32_t job = 0; job < entries.size(); ++job) place(night, job);
  for (std::uint32_t printer = 0; printer < printers.size(); ++printer) set_times(night, printer);
  if (const auto held = hold_against(times, night.plan); !held) return tl::unexpected(held.error());
  return std::move(night.plan);
}

}  // namespace hairline
