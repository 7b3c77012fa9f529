// Random nights against a slow twin that lays out a whole printer anew for each question, and against what must hold of
// any plan. All amounts are whole numbers, so that sums are exact in any order.
#include <algorithm>
#include <catch2/catch.hpp>
#include <map>

#include "plan_support.hpp"
#include "support/random.hpp"

using namespace hairline;
using namespace hairline::test;

namespace {

struct RandomNight {
  std::vector<QueuePrinter> printers;
  std::vector<QueueEntry> entries;
};

QueueRow random_row(Random& random) {
  QueueRow made = row(60 * random.between(1, 600), random.between(1, 60), {});
  if (random.chance(0.1)) made.verdict = Verdict::hold;
  if (random.chance(0.1)) made.size_mm = {200, 60};
  if (random.chance(0.1)) made.record.pitch_mm = 0.02;
  const char* resins[]{"", "grey", "clear", "black"};
  made.record.resin = resins[random.below(4)];
  if (random.chance(0.1)) made.error = Error{};
  return made;
}

RandomNight random_night(Random& random) {
  RandomNight night;
  const std::uint32_t printers = random.between(1, 4);
  for (std::uint32_t i = 0; i < printers; ++i) {
    QueuePrinter made = printer("bench " + std::to_string(i));
    if (random.chance(0.7)) made.resin_ml = random.between(0, 300);
    if (random.chance(0.5)) made.vat_ml = random.between(10, 60);
    if (random.chance(0.5)) made.plate_mm = {{143, 89}};
    made.changeover_min = random.below(40);
    night.printers.push_back(made);
  }
  const std::uint32_t jobs = random.between(0, 25);
  for (std::uint32_t i = 0; i < jobs; ++i) {
    QueueEntry made;
    made.job.copies = random.chance(0.2) ? random.between(2, 5) : 1;
    made.rows.resize(random.between(1, 2));
    for (QueueRow& row : made.rows) row = random_row(random);
    for (std::uint32_t k = 0; k < printers; ++k)  // each printer has one record, so it stands in one row
      if (random.chance(0.6))
        made.rows[random.below(static_cast<std::uint32_t>(made.rows.size()))].printers.push_back(k);
    night.entries.push_back(made);
  }
  return night;
}

// A print of a printer.
struct Came {
  std::uint32_t job = 0, copy = 0, row = 0;
  std::string resin = {};  // set when laid out
};

class Twin {
 public:
  explicit Twin(const RandomNight& night) : night_(night), came_(night.printers.size()) {}

  // In the order in which they are printed.
  std::vector<Came> laid_out(const std::vector<Came>& came) const {
    std::vector<std::string> resins;
    for (const Came& c : came) resins.push_back(row(c).record.resin);
    for (std::size_t i = 1; i < resins.size(); ++i)
      if (resins[i].empty()) resins[i] = resins[i - 1];
    for (std::size_t i = resins.size(); i-- > 1;)
      if (resins[i - 1].empty()) resins[i - 1] = resins[i];
    std::vector<Came> out;
    for (std::size_t i = 0; i < resins.size(); ++i) {
      if (std::find(resins.begin(), resins.begin() + static_cast<std::ptrdiff_t>(i), resins[i]) !=
          resins.begin() + static_cast<std::ptrdiff_t>(i))
        continue;
      for (std::size_t j = i; j < resins.size(); ++j)
        if (resins[j] == resins[i]) out.push_back({came[j].job, came[j].copy, came[j].row, resins[j]});
    }
    return out;
  }

  double end_of(std::uint32_t printer, const std::vector<Came>& order, const Came& wanted) const {
    double now_s = 0;
    for (const Came& c : order) {
      now_s += row(c).duration_s;
      if (c.job == wanted.job && c.copy == wanted.copy) return now_s;
      now_s += night_.printers[printer].changeover_min * 60;
    }
    return -1;
  }

  bool can_print(std::uint32_t printer, const Came& c) const {
    const QueueRow& r = row(c);
    const QueuePrinter& p = night_.printers[printer];
    double used_ml = 0;
    for (const Came& earlier : came_[printer]) used_ml += row(earlier).resin_ml;
    return !r.error && r.verdict != Verdict::hold && !(p.plate_mm && r.size_mm[0] > 144) && !r.record.pitch_mm &&
           !(p.resin_ml && used_ml + r.resin_ml > *p.resin_ml);
  }

  // False: no printer takes it.
  bool place(std::uint32_t job, std::uint32_t copy) {
    double best_s = -1;
    std::uint32_t best_printer = 0;
    Came best{};
    for (std::uint32_t printer = 0; printer < came_.size(); ++printer)
      for (std::uint32_t i = 0; i < night_.entries[job].rows.size(); ++i) {
        const auto& its = night_.entries[job].rows[i].printers;
        const Came now{job, copy, i, {}};
        if (std::find(its.begin(), its.end(), printer) == its.end() || !can_print(printer, now)) continue;
        auto came = came_[printer];
        came.push_back(now);
        const double end_s = end_of(printer, laid_out(came), now);
        if (best_s >= 0 && end_s >= best_s) continue;
        best_s = end_s;
        best_printer = printer;
        best = now;
      }
    if (best_s >= 0) came_[best_printer].push_back(best);
    return best_s >= 0;
  }

  const QueueRow& row(const Came& c) const { return night_.entries[c.job].rows[c.row]; }
  const std::vector<Came>& came(std::uint32_t printer) const { return came_[printer]; }

 private:
  const RandomNight& night_;
  std::vector<std::vector<Came>> came_;
};

void check_against_twin(const RandomNight& night, const NightPlan& plan) {
  Twin twin(night);
  std::map<std::uint32_t, std::uint32_t> left;
  for (std::uint32_t job = 0; job < night.entries.size(); ++job)
    for (std::uint32_t copy = 1; copy <= night.entries[job].job.copies; ++copy)
      if (!twin.place(job, copy)) ++left[job];
  std::size_t at = 0;
  for (std::uint32_t printer = 0; printer < night.printers.size(); ++printer) {
    const auto order = twin.laid_out(twin.came(printer));
    std::string before = order.empty() ? "" : order.front().resin;
    for (const Came& c : order) {
      REQUIRE(at < plan.prints.size());
      const PlannedPrint& print = plan.prints[at++];
      CHECK(print.printer == printer);
      CHECK(print.job == c.job);
      CHECK(print.copy == c.copy);
      CHECK(print.row == c.row);
      CHECK(print.end_s == twin.end_of(printer, order, c));
      CHECK(print.resin_change == (c.resin != before));
      before = c.resin;
    }
  }
  CHECK(at == plan.prints.size());
  REQUIRE(plan.not_planned.size() == left.size());
  std::size_t i = 0;
  for (const auto& [job, copies] : left) {
    CHECK(plan.not_planned[i].job == job);
    CHECK(plan.not_planned[i++].copies == copies);
  }
}

// Prints of one printer follow one another with the changeover between, and never use more resin than there is.
void check_lane(const RandomNight& night, const PlannedPrint* before, const PlannedPrint& print) {
  const QueuePrinter& p = night.printers[print.printer];
  const QueueRow& r = night.entries[print.job].rows[print.row];
  CHECK(std::count(r.printers.begin(), r.printers.end(), print.printer) == 1);
  CHECK(print.end_s - print.start_s == r.duration_s);
  CHECK(print.start_s == (before ? before->end_s + p.changeover_min * 60 : 0));
  CHECK(print.over_vat == (p.vat_ml && r.resin_ml > *p.vat_ml));
  CHECK(print.resin_left_ml.has_value() == p.resin_ml.has_value());
  if (!p.resin_ml) return;
  CHECK(*print.resin_left_ml >= 0);
  CHECK(*print.resin_left_ml == (before ? *before->resin_left_ml : *p.resin_ml) - r.resin_ml);
}

void check_invariants(const RandomNight& night, const NightPlan& plan) {
  std::map<std::uint32_t, std::uint32_t> copies;
  std::map<std::pair<std::uint32_t, std::string>, std::uint32_t> changes;
  for (std::size_t i = 0; i < plan.prints.size(); ++i) {
    const PlannedPrint& print = plan.prints[i];
    const PlannedPrint* before = i > 0 && plan.prints[i - 1].printer == print.printer ? &plan.prints[i - 1] : nullptr;
    check_lane(night, before, print);
    CHECK(print.late == (print.end_s > *plan.allowed_s));
    CHECK(print.end_s <= plan.duration_s);
    ++copies[print.job];
    if (print.resin_change)
      CHECK(++changes[{print.printer, night.entries[print.job].rows[print.row].record.resin}] == 1);
    if (!before) CHECK_FALSE(print.resin_change);
  }
  for (const NotPlanned& left : plan.not_planned) copies[left.job] += left.copies;
  for (std::uint32_t job = 0; job < night.entries.size(); ++job) CHECK(copies[job] == night.entries[job].job.copies);
}

}  // namespace

TEST_CASE("random nights are planned as the slow twin plans them") {
  Random random(19);
  std::size_t prints = 0, left = 0, late = 0;
  for (int i = 0; i < 1500; ++i) {
    INFO("night " << i);
    const RandomNight made = random_night(random);
    const auto plan = plan_night(night("2027-03-27T22:00", "2027-03-28T07:30"), made.printers, made.entries);
    REQUIRE(plan);
    check_against_twin(made, *plan);
    check_invariants(made, *plan);
    prints += plan->prints.size();
    left += plan->not_planned.size();
    for (const PlannedPrint& print : plan->prints) late += print.late;
  }
  CHECK(prints > 5000);
  CHECK(left > 5000);
  CHECK(late > 500);
}
